/** What a run of the firmware shows: its signal, how often it refreshes, and whether it stays healthy. */
import { firmwareEvidence, runNotes, withCulprits, withoutUnmodelled } from '../controller/index.js'
import type { LoadedDesign } from '../design/index.js'
import { signalNotes, signalStatements } from '../signal/index.js'
import { formatTimeUs } from '../units/index.js'
import { withCutoutLevels } from './cutout-levels.js'
import { dependsOn } from './depends-on.js'
import type { RunEvidence, SourceFile } from './evidence-set.js'
import { distinct, PROOF_FINDINGS } from './findings.data.js'
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
  for (const { name, pin, profile, reading, lowCutouts = 0 } of run.outputs) {
    const signal = [
      ...signalStatements(reading, profile, {
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
    ]
    const judged = loaded ? withCutoutLevels(signal, lowCutouts, name, loaded) : signal
    found.statements.push(...withCulprits(withoutUnmodelled(judged, run.report), run.report))
    found.notes.push(...signalNotes(reading))
    if (reading.packets.total === 0)
      found.notes.push(PROOF_FINDINGS.find('no-packet', { source, output: name, pin }))
  }
  if (loaded && run.behaviour)
    found.statements.push(
      ...withoutUnmodelled(run.behaviour.statements({ source, file, ranUs: ran }), run.report),
    )
  const [first] = run.outputs
  if (first)
    found.statements.push(
      ...withoutUnmodelled(firmwareEvidence(run.report, { profile: first.profile, file }), run.report),
    )
  if (run.interrupted) found.notes.push(PROOF_FINDINGS.find('run-stopped', { file, ranUs: ran }))
  found.notes = distinct([...found.notes, ...runNotes(run.report)])
  return found
}
