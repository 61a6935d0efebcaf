import { mkdirSync } from 'node:fs'
import { join } from 'node:path'
import { lineChart, wrapText } from '../../plot/index.js'
import {
  adviseTrack,
  DesignFault,
  dcNetlist,
  districtRinging,
  drawTrack,
  type Grade,
  judgeTrack,
  LIMITS,
  loadsOf,
  type MapValue,
  modelTrack,
  placeEdges,
  reportTrack,
  ringCircuit,
  ringNetlist,
  sourcesFromPower,
  type TrackInput,
  type TrackModel,
  type TrackReport,
  voltLabel,
  type Waves,
  windowUs,
  withTerminator,
} from '../../track/index.js'
import { formatNumber, InputError } from '../../units/index.js'
import type { Arguments, Command, ExitStatus, Io } from '../command.js'
import { writeWhole } from '../files.js'
import { type DesignFile, profileOfDesign, readDesign } from '../read-design.js'
import { evidenceText } from '../signal-text.js'
import { runSpice, SpiceUnavailable } from '../spice.js'
import { trackText } from '../track-text.js'

/** Places of the rails beyond which proposals take minutes. */
const LARGE = 40_000

export const command: Command = {
  usage: ['track DESIGN [options]'],
  about: `Solves the network of rails and wires that the design describes: voltage at every place with the trains where they
stand and where they hurt most, what a short draws at every place and joint, what one fault would do, whether a rail meets its
opposite, how edges ring on the bus, and what to change.`,
  options: {
    svg: { type: 'string', value: 'DIR', help: 'write maps and curves as SVG into this folder' },
    netlist: {
      type: 'string',
      value: 'FILE.cir',
      help: 'write the network as a SPICE netlist, and beside it one for the edges of each district',
    },
    spice: {
      type: 'boolean',
      help: 'confirm the edges with the SPICE engine (optional package eecircuit-engine)',
    },
    all: { type: 'boolean', help: 'every row of every table' },
    quick: { type: 'boolean', help: 'leave out proposals and the search for the best end of the bus' },
  },
  takes: { min: 1, max: 1, what: 'one design file' },
  examples: ['halfbit track halfbit.yaml', 'halfbit track halfbit.yaml --svg maps --netlist track.cir'],
  run,
}

async function run(args: Arguments, io: Io): Promise<ExitStatus> {
  const [file] = args.positionals as [string]
  const loaded = readDesign(file)
  const input = inputOf(loaded)
  let model: TrackModel
  try {
    model = modelTrack(input)
  } catch (error) {
    if (error instanceof DesignFault)
      throw new InputError(error.message, { file, ...loaded.placeOf(error.path) })
    throw error
  }
  const quick = args.on('quick')
  io.progress('solving the network …')
  const report = reportTrack(model, input, { terminator: !quick })
  if (args.on('spice')) await confirm(model, input, report, io)
  const large = model.net.places.length > LARGE
  if (large && !quick) io.note('Proposals are left out: the railroad is too large to solve it a dozen times.')
  io.progress('solving what could be changed …')
  const advice = quick || large ? undefined : adviseTrack(model, input)
  io.progress('')
  const svg = args.text('svg')
  if (svg !== undefined) writeDrawings(svg, model, report, io)
  const netlist = args.text('netlist')
  if (netlist !== undefined) writeNetlists(netlist, model, io)
  if (args.on('json')) {
    io.out(JSON.stringify({ halfbit: 1, design: file, ...jsonOf(report, loaded.placeOf), advice }))
  } else {
    const text = trackText(report, advice, { width: io.width, all: args.on('all') })
    io.out(
      [
        ...text,
        ...evidenceText(report.evidence),
        '',
        ...report.cautions.flatMap((c) => wrapText(`! ${c}`, io.width, '  ')),
      ].join('\n'),
    )
  }
  return report.evidence.some((e) => e.verdict === 'broken') ? 1 : 0
}

function inputOf(loaded: DesignFile): TrackInput {
  const { design, file } = loaded
  if (!design.track)
    throw new InputError('there is no "track" in this design; expected bus, sections and feeders', { file })
  if (!design.power)
    throw new InputError('there is no "power" in this design; the track needs its power districts', { file })
  return {
    track: design.track,
    ...(design.rollingStock ? { rollingStock: design.rollingStock } : {}),
    sources: sourcesFromPower(design.power, design.signal),
    profile: profileOfDesign(loaded),
  }
}

/** The report with the line of every finding in the file. */
function jsonOf(
  report: TrackReport,
  placeOf: (path: (string | number)[]) => { line: number; column: number },
) {
  return {
    ...report,
    findings: report.findings.map((f) => (f.path ? { ...f, ...placeOf([...f.path]) } : f)),
  }
}

/** The same edges by SPICE, in place of the ladder's; what cannot be confirmed stays as it was. */
async function confirm(model: TrackModel, input: TrackInput, report: TrackReport, io: Io): Promise<void> {
  const ringing = report.ringing
  if (!ringing) return
  for (const [i, had] of ringing.districts.entries()) {
    const c = ringCircuit(model.plan, model.net, model.net.districts.indexOf(had.district))
    if (!c) continue
    io.progress(`SPICE: edges of district ${had.district} …`)
    try {
      const until = windowUs(c)
      const bySpice = districtRinging(c, await spiceWaves(c, until, io), 'SPICE')
      if (had.best) {
        const better = withTerminator(c, had.best)
        const edges = placeEdges(better, await spiceWaves(better, until, io))
        bySpice.best = {
          ...had.best,
          peakVolt: Math.max(...edges.map((e) => e.peakVolt)),
          distortionVolt: Math.max(...edges.map((e) => e.distortionVolt)),
          slopeVoltPerUs: Math.min(...edges.map((e) => e.slopeVoltPerUs)),
        }
        if (had.bestWave) bySpice.bestWave = had.bestWave
      }
      ringing.districts[i] = bySpice
    } catch (error) {
      if (!(error instanceof SpiceUnavailable)) throw error
      io.note(`District ${had.district}: edges not confirmed by SPICE: ${error.message}.`)
    }
  }
  report.evidence = judgeTrack(report, { ...LIMITS, ...input.track.limits }, input.profile)
}

async function spiceWaves(c: Parameters<typeof ringNetlist>[0], until: number, io: Io): Promise<Waves> {
  const { vectors } = await runSpice(ringNetlist(c, until), { signal: io.signal })
  const time = vectors.get('time')
  const volt = new Map(c.probes.map((k) => [k, vectors.get(`v(n${k})`)]))
  if (!time || [...volt.values()].some((v) => v === undefined))
    throw new SpiceUnavailable('a waveform is missing in its result')
  return { timeUs: time.map((s) => s * 1e6), volt: volt as Map<number, Float64Array> }
}

const LEGEND: Record<string, Record<Grade, string>> = {
  volt: { good: 'up to 5 % lost', fair: 'up to the limit', poor: 'more is lost', none: 'no figure' },
  short: {
    good: 'draws more than wanted',
    fair: 'trips, with little to spare',
    poor: 'never trips',
    none: 'no trip level',
  },
}

function writeDrawings(folder: string, model: TrackModel, report: TrackReport, io: Io): void {
  mkdirSync(folder, { recursive: true })
  const limits = { ...LIMITS, ...model.plan.design.limits }
  const loads = new Map(report.districts.map((d) => [d.name, d.loadAmp.high]))
  // Lost in wires and rails: what supply and driver lose at that current is not theirs.
  const grade = (volt: number, district: string, amp: number): Grade => {
    const d = report.districts.find((x) => x.name === district)!
    const share = (d.openVolt.low - amp * d.sourceOhm - volt) / d.openVolt.low
    return share <= limits.drop / 2
      ? 'good'
      : share <= limits.drop && volt >= limits.decoder
        ? 'fair'
        : 'poor'
  }
  const planned = report.sections.map(
    (s): MapValue => ({
      grade: grade(s.volt.low, s.district, loads.get(s.district) ?? 0),
      label: voltLabel(s.volt.low),
    }),
  )
  const worst = report.sections.map((s): MapValue => {
    if (s.envelopeVolt === undefined) return { grade: 'none', label: '' }
    return { grade: grade(s.envelopeVolt, s.district, s.envelopeAmp ?? 0), label: voltLabel(s.envelopeVolt) }
  })
  const shorts = report.sections.map((s): MapValue => {
    if (s.shortShare === undefined) return { grade: 'none', label: `${formatNumber(s.shortAmp.low, 3)} A` }
    const share = s.shortShare.low
    const label = `${formatNumber(s.shortAmp.low, 3)} A, ${formatNumber(share, 3)}×`
    return { grade: share >= limits.reserve ? 'good' : share > 1 ? 'fair' : 'poor', label }
  })
  const files: [string, string][] = [
    [
      'voltage.svg',
      drawTrack(model.plan, {
        id: 'track-voltage',
        title: 'Lowest voltage, trains where they stand',
        description: summary(report),
        values: planned,
        legend: LEGEND['volt']!,
      }),
    ],
    [
      'voltage-worst.svg',
      drawTrack(model.plan, {
        id: 'track-voltage-worst',
        title: 'Lowest voltage, trains where they hurt most',
        description: report.envelope
          ? `At worst ${voltLabel(report.envelope.volt)} at ${report.envelope.place}.`
          : 'No trains are given.',
        values: worst,
        legend: LEGEND['volt']!,
      }),
    ],
    [
      'shorts.svg',
      drawTrack(model.plan, {
        id: 'track-shorts',
        title: 'What a short draws, and as a multiple of the trip current',
        description: `The weakest is at ${report.shorts.weakest}.`,
        values: shorts,
        legend: LEGEND['short']!,
      }),
    ],
  ]
  for (const r of report.ringing?.districts ?? []) {
    const points = (w: { timeUs: number[]; volt: number[] }) =>
      w.timeUs.map((t, i): [number, number] => [t, w.volt[i]!])
    const series = [{ label: 'as designed', points: points(r.wave) }]
    if (r.bestWave && r.best)
      series.push({
        label: `${r.best.ohm} Ohm, ${formatNumber(r.best.farad * 1e9)} nF`,
        points: points(r.bestWave),
      })
    files.push([
      `edge-${r.district.replace(/[^\w-]+/g, '-')}.svg`,
      lineChart({
        id: `track-edge-${r.district}`,
        title: `An edge at the far end of district ${r.district}`,
        description: `Peak ${voltLabel(r.worst.peakVolt)}, slope ${formatNumber(r.slopeVoltPerUs, 3)} V/us.`,
        x: { label: 'time', unit: 'us' },
        y: { label: 'rail to rail', unit: 'V' },
        series,
        rules: [
          { axis: 'y', at: 2, label: '+2 V' },
          { axis: 'y', at: -2, label: '-2 V' },
        ],
      }),
    ])
  }
  for (const [name, content] of files) writeWhole(join(folder, name), content)
  io.note(`Wrote ${files.map(([name]) => name).join(', ')} to ${folder}.`)
}

function summary(report: TrackReport): string {
  return report.districts
    .map((d) => `District ${d.name}: at least ${voltLabel(d.worstVolt.low)}, at ${d.worstVoltPlace}.`)
    .join(' ')
}

function writeNetlists(file: string, model: TrackModel, io: Io): void {
  const { plan, net, weak } = model
  writeWhole(file, dcNetlist(plan, weak, loadsOf(plan, net)))
  const written = [file]
  net.districts.forEach((name, d) => {
    const c = ringCircuit(plan, net, d)
    if (!c) return
    const edge = `${file.replace(/\.cir$/i, '')}-edge-${name.replace(/[^\w-]+/g, '-')}.cir`
    writeWhole(edge, ringNetlist(c, windowUs(c)))
    written.push(edge)
  })
  io.note(`Wrote ${written.join(', ')}.`)
}
