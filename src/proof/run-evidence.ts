/** What a run of the firmware shows: its signal, how often it refreshes, and whether it stays healthy. */
import type { PlaceInCode, SimulationReport } from '../controller/index.js'
import type { LoadedDesign } from '../design/index.js'
import type { Finding } from '../finding/index.js'
import { judgeSignal } from '../signal/index.js'
import { formatTimeUs } from '../units/index.js'
import { dependsOn } from './depends-on.js'
import type { RunEvidence, SourceFile } from './evidence-set.js'
import { asFinding, distinct, PROOF_FINDINGS } from './findings.data.js'
import type { FirmwareRun } from './firmware-run.js'
import { refreshOf } from './refresh-evidence.js'

export interface RunSource {
  firmware: SourceFile
  stimulus?: SourceFile | undefined
  /** Absent where the pins are named without a design. */
  loaded?: LoadedDesign | undefined
}

/** All that a run shows. */
export function evidenceOfRun(run: FirmwareRun, { firmware, stimulus, loaded }: RunSource): RunEvidence {
  const { file } = firmware
  const ran = run.report.simulatedUs
  const source = `${formatTimeUs(ran)} of ${file}`
  const found: RunEvidence = {
    kind: 'run',
    outputs: run.outputs.map((o) => o.name),
    source,
    dependsOn: loaded ? dependsOn(loaded.design, 'run') : '',
    statements: [],
    notes: [],
    inputs: [
      { role: 'firmware', ...firmware },
      ...(stimulus ? [{ role: 'stimulus' as const, ...stimulus }] : []),
    ],
    ...(firmware.sha256 === undefined ? {} : { build: firmware.sha256 }),
  }
  for (const { name, pin, profile, reading } of run.outputs) {
    found.statements.push(
      ...judgeSignal(reading, profile, {
        origin: 'simulated',
        source,
        about: name,
        probe: 'logic',
        place: { file, channel: pin },
      }),
      // Where the commands are known, what was commanded is followed; else only what was heard can be.
      ...(loaded && !loaded.design.firmware?.commands
        ? refreshOf(loaded, name, reading, 'simulated', source)
        : []),
    )
    if (reading.packets.total === 0)
      found.notes.push(PROOF_FINDINGS.find('no-packet', { source, output: name, pin }))
  }
  if (loaded && run.behaviour)
    found.statements.push(...run.behaviour.statements({ source, file, ranUs: ran }))
  if (run.interrupted) found.notes.push(PROOF_FINDINGS.find('run-stopped', { file, ranUs: ran }))
  found.notes = distinct([...found.notes, ...runNotes(run.report)])
  return found
}

/** What a builder must hear of a run although the signal may look sound. */
function runNotes(report: SimulationReport): Finding[] {
  const { find } = PROOF_FINDINGS
  const notes: Finding[] = []
  for (const { name, pin, madeBy, missedCompares, firstMissedAtUs = 0 } of report.outputs) {
    if (madeBy === 'none') notes.push(find('pin-never-moved', { output: name, pin }))
    if (missedCompares > 0)
      notes.push(find('compares-late', { output: name, count: missedCompares, firstUs: firstMissedAtUs }))
  }
  const { resets, illegalInstructions, outsideMemory, stack } = report
  const [first] = resets.list
  if (first) {
    const { atUs, cause, by } = first
    notes.push(find('resets', { count: resets.count, atUs, cause, where: codePlaceText(by) }))
  }
  for (const [code, { count, first: by }] of [
    ['illegal-instructions', illegalInstructions],
    ['outside-memory', outsideMemory],
  ] as const)
    if (by) notes.push(find(code, { count, where: codePlaceText(by) }))
  if (stack.overflowed) notes.push(find('stack-in-data', { deepest: stack.deepestBytes, of: stack.ramBytes }))
  for (const { name, overrun, whileOff, frameErrors } of report.serial)
    if (overrun + whileOff + frameErrors > 0)
      notes.push(find('serial-lost', { port: name, overrun, whileOff, frameErrors }))
  return [...notes, ...report.notes.map(asFinding)]
}

/** `main+0x12 (0x01a4)`, `address 0x01a4`. */
export function codePlaceText({ address, symbol }: PlaceInCode): string {
  const hex = `0x${address.toString(16).padStart(4, '0')}`
  return symbol === undefined ? `address ${hex}` : `${symbol} (${hex})`
}
