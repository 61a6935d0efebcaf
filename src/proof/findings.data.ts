/** What the proof itself says beside figures. */
import { type Finding, findingTable } from '../finding/index.js'
import { formatTimeUs } from '../units/index.js'

const plural = (n: number, one: string, many = `${one}s`) => `${n} ${n === 1 ? one : many}`
const short = (sha256: string) => `${sha256.slice(0, 12)}${sha256.length > 12 ? '…' : ''}`

export const PROOF_FINDINGS = findingTable('proof', {
  remark: {
    means: 'A remark by a calculation or an importer, in its own words.',
    says: ({ text }: { text: string }) => text,
  },
  'not-given': {
    means: 'Nothing in the input of the proof shows the clause.',
    says: () => 'nothing in the input shows it',
  },
  'not-owed': {
    means: 'A clause was required by name, but the design has no output or part that has to meet it.',
    remedy: 'Describe the output or part that the clause is about, or do not require the clause.',
    says: () => 'the design has no output or part that has to meet it',
  },
  'no-part': {
    means: 'The design does not describe the part that the clause is calculated from.',
    remedy: 'Describe that part in the design file.',
    says: ({ part }: { part: string }) => `the design describes no ${part}`,
  },
  'not-calculated': {
    means: 'The design lacks some of the figures that the calculation needs.',
    remedy: 'See which figures of the part are missing; the notes, and the command for that part, name them.',
    says: () => 'the design lacks some of the figures that it is calculated from',
  },
  'calculation-failed': {
    means: 'Part of the design contradicts itself, so it could not be calculated.',
    remedy: 'Correct the design where the message says.',
    says: ({ why }: { why: string }) => `not everything could be calculated: ${why}`,
  },
  'worse-elsewhere': {
    means: 'Power stage and track both judge the clause; the worse verdict counts.',
    says: ({ own, other }: { own: string; other: string }) => `${own}; but elsewhere: ${other}`,
  },
  'calculation-pending': {
    means:
      'A longer calculation is still running; its figures are missing, or are those of the previous design.',
    remedy: 'Wait for it.',
    says: () => 'a longer calculation for the present design is still running',
  },
  'load-ignored': {
    means: 'The design gives a district a load and also lets trains run in it; the trains count.',
    remedy: 'Leave out either the load of the district or the trains.',
    says: ({ district, capacitors }: { district: string; capacitors: boolean }) =>
      `the currents of power.districts.${district}.load are ignored: the trains of rollingStock count there${capacitors ? '; its stay-alive capacitors count, as no train there has any' : ''}`,
  },
  'railroad-loads-unusable': {
    means:
      'The description of the railroad contradicts itself, so its loads are not used for the power stage.',
    remedy: 'Correct the railroad.',
    says: ({ why }: { why: string }) => `the loads of the railroad could not be used: ${why}`,
  },
  'calculated-only': {
    means:
      'The clause is about what the station does. The design declares it, but no run of the firmware and no capture shows it, so it does not count as met.',
    remedy: 'Run the firmware with a stimulus that makes it do this, or take a capture of it.',
    says: () => 'calculated only: this is what the design declares, not what the station was seen to do',
  },
  'no-firmware': {
    means: 'The design names no firmware, so nothing is simulated.',
    remedy: 'Name the compiled firmware in the design, under firmware.',
    says: () => 'the design names no firmware to run',
  },
  'not-run': {
    means: 'The design names firmware, but it has not been run.',
    remedy: 'Run it.',
    says: ({ file }: { file: string }) => `the firmware ${file} has not been run`,
  },
  'chip-not-simulated': {
    means: 'There is no simulated controller of this kind, so the firmware is not run.',
    remedy: 'Take captures of what the station sends.',
    says: ({ chip, simulated }: { chip: string; simulated: readonly string[] }) =>
      `the firmware was not run: the ${chip} cannot be simulated, only ${simulated.join(', ')}`,
  },
  'cutout-open': {
    means:
      'Cut-outs are made with both inputs of a driver low, which leaves its rails open; a cut-out joins them.',
    remedy: 'Make the cut-out with both inputs high, if the data sheet of the driver has that as its brake.',
    says: (p: { count: number; district: string; part: string }) =>
      `in ${p.count} cut-outs both inputs of the driver of ${p.district} (${p.part}) are low, which leaves the rails open; a cut-out joins them`,
  },
  'cutout-unknown': {
    means: 'Cut-outs are made with both inputs of a driver low, and what it does then is not known.',
    remedy: 'Give "bothLow" among the figures of the driver, from its data sheet.',
    says: (p: { count: number; district: string; part: string }) =>
      `in ${p.count} cut-outs both inputs of the driver of ${p.district} (${p.part}) are low; whether it joins the rails then is not known`,
  },
  'run-shows-nothing': {
    means: 'The firmware ran, but its signal contained nothing by which the clause could be judged.',
    remedy: 'Let it run longer, or give it a stimulus that makes it send what the clause is about.',
    says: ({ source }: { source: string }) => `${source} contains nothing to judge it by`,
  },
  'run-outdated': {
    means: 'The run was made before the design was changed.',
    remedy: 'Run the firmware again.',
    says: ({ file }: { file: string }) =>
      `the run of ${file} was made before the design was changed, and is left out; run it again`,
  },
  'origins-disagree': {
    means: 'A run and the calculation differ by more than the error of both.',
    remedy:
      'Check whether the design describes what was built and what the firmware does; if it does, believe the run.',
    says: (p: { clause: string; about: string | undefined; calculated: string; simulated: string }) =>
      `calculation and run disagree about ${p.clause}${p.about === undefined ? '' : ` of ${p.about}`}: calculated, ${p.calculated}; in the run, ${p.simulated}`,
  },
  'run-stopped': {
    means: 'The run was stopped early.',
    remedy: 'Let it run to its end.',
    says: ({ file, ranUs }: { file: string; ranUs: number }) =>
      `the run of ${file} was stopped after ${formatTimeUs(ranUs)}; this is what was seen until then`,
  },
  'no-packet': {
    means: 'No packet was seen.',
    remedy: 'Check whether the pin is the right one, and whether the firmware starts to send.',
    says: ({ source, output, pin }: { source: string; output?: string; pin?: string }) =>
      `${output === undefined ? '' : `${output}: `}no packet in ${source}${pin === undefined ? '' : ` on ${pin}`}`,
  },
  'no-capture': {
    means: 'No capture shows this.',
    remedy: 'Take a capture, and list it in the design under captures.',
    says: ({ of }: { of?: string }) => (of === undefined ? 'no capture shows it' : `no capture of ${of}`),
  },
  'not-read': {
    means: 'The design lists captures, but they have not been read.',
    remedy: 'Read them.',
    says: ({ files }: { files: readonly string[] }) => `${files.join(', ')} not read yet`,
  },
  'capture-shows-nothing': {
    means: 'A capture was read, but it contains nothing by which the clause could be judged.',
    remedy:
      'Take a longer capture, or one that holds what the clause is about; voltage and slope need an analog capture of both rails.',
    says: ({ source }: { source: string }) => `${source} contains nothing to judge it by`,
  },
  'capture-outdated': {
    means: 'The capture was read before the design was changed.',
    remedy: 'Read it again.',
    says: ({ file }: { file: string }) =>
      `${file} was read before the design was changed, and is left out; read it again`,
  },
  'capture-stopped': {
    means: 'Reading the capture was stopped before its end.',
    remedy: 'Read it to its end.',
    says: ({ file }: { file: string }) => `reading ${file} was stopped; this is what was seen until then`,
  },
  'capture-note': {
    means: 'What an importer assumed, or what a reader should know about the file.',
    says: ({ file, says }: { file: string; says: string }) => `${file}: ${says}`,
  },
  'no-current': {
    means: 'The capture of a service track has no current channel, which this clause needs.',
    remedy: 'Record the current as well, and name its channel.',
    says: ({ source }: { source: string }) => `${source} has no current channel`,
  },
  'current-not-judged': {
    means:
      'The capture has a current channel, but shows an operations track: only a service track has a limit.',
    remedy: 'If it is a service track, say so.',
    says: ({ file }: { file: string }) =>
      `${file}: the current is judged on a service track only, and this is an operations track`,
  },
  'capture-is-simulated': {
    means: 'The file is an export of a simulation or of a calculated signal, not a measurement.',
    remedy: 'Take a capture of the real station.',
    says: ({ file, firmware }: { file: string; firmware?: string }) =>
      `${file} was made by simulation${firmware === undefined ? '' : ` of ${firmware}`}, not measured; what it shows counts as simulated`,
  },
  'capture-of-other-build': {
    means:
      'The capture was taken with another build of the firmware, so it says nothing about the present one.',
    remedy: 'Take a capture with the present firmware, and name its build in the design.',
    says: ({ file, build, firmware }: { file: string; build: string; firmware: string }) =>
      `${file} is of firmware build ${short(build)}, not of the present ${short(firmware)}`,
  },
  'shown-by-other-build': {
    means: 'What a capture of another firmware build showed; it does not count for the present one.',
    remedy: 'Take a capture with the present firmware, and name its build in the design.',
    says: ({ file, build, verdict, why }: { file: string; build: string; verdict: string; why: string }) =>
      `${file} is of another firmware build, ${short(build)}; for that build it shows ${verdict}: ${why}`,
  },
  'shown-without-firmware': {
    means:
      'The file holds a signal that was calculated from packets; no firmware sent it, so it says nothing about the station.',
    remedy: 'Run the firmware, or take a capture of the real station.',
    says: ({ file }: { file: string }) =>
      `${file} was calculated from packets, not sent by firmware; it says nothing about the station`,
  },
  'build-unknown': {
    means:
      'The capture does not say which build of the firmware it was taken with, so it may be from another one.',
    remedy: 'Name the build: the SHA-256 of the firmware file, or its first digits.',
    says: ({ file }: { file: string }) =>
      `${file} does not name the firmware build it was taken with, so it may not show the present one`,
  },
  'build-unchecked': {
    means:
      'The capture names a firmware build, but the present firmware was not read, so they cannot be compared.',
    remedy: 'Name the firmware in the design, and run it.',
    says: ({ file, build }: { file: string; build: string }) =>
      `${file} is of firmware build ${short(build)}; there is no firmware to compare it with`,
  },
  'output-gone': {
    means: 'A run or a capture is of an output that the design no longer has.',
    says: ({ file, output }: { file: string; output: string }) =>
      `${file} is of the output ${output}, which the design does not have; it is left out`,
  },
  interrupted: {
    means: 'The proof was stopped before everything was run and read.',
    remedy: 'Let it run to its end.',
    says: () => 'the proof was stopped; this is what was seen until then',
  },
  'text-changed': {
    means: 'The design has been changed since this proof was made.',
    remedy: 'Wait for the new proof, or correct the design.',
    says: () => 'the design has been changed since; this proof is of the previous design',
  },
  'text-has-problems': {
    means: 'The design has been changed since this proof was made, and cannot be read as it is now.',
    remedy: 'Correct the problems of the design.',
    says: ({ problems, first }: { problems: number; first: string }) =>
      `the design has been changed since and has ${plural(problems, 'problem')} now (${first}); this proof is of the previous design`,
  },
  'text-partly-valid': {
    means:
      'The design has problems, and this proof covers only the parts that have none; the other parts come from the last valid version, or are left out.',
    remedy: 'Correct the problems of the design.',
    says: ({
      problems,
      first,
      before,
      without,
    }: {
      problems: number
      first: string
      before: string
      without: string
    }) => {
      const parts = [
        before === '' ? '' : `with ${before} from its last valid version`,
        without === '' ? '' : `without ${without}`,
      ].filter((part) => part !== '')
      return `the design has ${plural(problems, 'problem')} now (${first}); this proof is of the rest of it, ${parts.join(' and ')}`
    },
  },
})

/** A sentence of a room that has no code for it yet. */
export function asFinding(said: Finding | string): Finding {
  return typeof said === 'string' ? PROOF_FINDINGS.find('remark', { text: said }) : said
}

/** Each code with the same parameters once. */
export function distinct(findings: readonly Finding[]): Finding[] {
  return [...new Map(findings.map((f) => [`${f.code} ${f.sentence}`, f])).values()]
}
