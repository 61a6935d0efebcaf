/** What a capture shows of the output it was taken of. */
import { type CaptureSummary, judgeAnalog } from '../capture/index.js'
import type { LoadedDesign } from '../design/index.js'
import { judgeSignal, type SignalReading } from '../signal/index.js'
import { InputError } from '../units/index.js'
import { dependsOn } from './depends-on.js'
import type { RunEvidence, SourceFile } from './evidence-set.js'
import { PROOF_FINDINGS } from './findings.data.js'
import type { OutputSetting } from './outputs.js'
import { refreshOf } from './refresh-evidence.js'

export interface CaptureRead {
  reading: SignalReading
  summary: CaptureSummary
  interrupted: boolean
}

export interface CaptureSource extends SourceFile {
  output: OutputSetting
  probe: 'rails' | 'logic'
  /** The firmware build that it was taken with, where somebody says so: its SHA-256, or the first digits. */
  build?: string | undefined
  loaded?: LoadedDesign | undefined
}

/**
 * All that a capture shows.
 * @throws InputError when there is no signal in it.
 */
export function evidenceOfCapture(
  { reading, summary, interrupted }: CaptureRead,
  { file, sha256, output, probe, build, loaded }: CaptureSource,
): RunEvidence {
  const { name, profile } = output
  if (reading.edges < 2) {
    const there = summary.available.slice(0, 12).join(', ')
    throw new InputError(
      `${reading.edges} edges on ${summary.channels.join(' and ')}; expected a signal (the file has ${there})`,
      { file },
    )
  }
  const source = `capture ${file}`
  const channel = summary.channels.join('-')
  const about = { source, probe, ...(name === undefined ? {} : { about: name }) }
  const origin = 'measured'
  const found: RunEvidence = {
    kind: 'capture',
    outputs: name === undefined ? [] : [name],
    source,
    dependsOn: loaded ? dependsOn(loaded.design, 'capture') : '',
    statements: [
      ...judgeSignal(reading, profile, { ...about, origin, place: { file, channel } }),
      ...(loaded && name !== undefined ? refreshOf(loaded, name, reading, origin, source) : []),
      ...(summary.analog ? judgeAnalog(summary.analog, profile, { ...about, file, channel }) : []),
    ],
    notes: [],
    inputs: [{ role: 'capture', file, ...(sha256 === undefined ? {} : { sha256 }) }],
    ...(build === undefined ? {} : { build }),
  }
  if (reading.packets.total === 0) found.notes.push(PROOF_FINDINGS.find('no-packet', { source }))
  for (const says of summary.notes) found.notes.push(PROOF_FINDINGS.find('capture-note', { file, says }))
  if (interrupted) found.notes.push(PROOF_FINDINGS.find('capture-stopped', { file }))
  return found
}
