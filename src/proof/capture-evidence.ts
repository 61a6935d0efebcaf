/** What a capture shows of the output it was taken of. */
import { analogAdvice, type CaptureSummary, isSimulatedRecord, judgeAnalog } from '../capture/index.js'
import {
  type CurrentReading,
  type SignalReading,
  serviceCurrentEvidence,
  signalNotes,
  signalStatements,
} from '../signal/index.js'
import { notShown, type Statement } from '../standard/index.js'
import { InputError } from '../units/index.js'
import type { RunEvidence, SourceFile } from './evidence-set.js'
import { PROOF_FINDINGS } from './findings.data.js'
import type { OutputSetting } from './reader-options.js'
import type { CaptureContext } from './refresh-evidence.js'

const { find } = PROOF_FINDINGS

export interface CaptureRead {
  reading: SignalReading
  summary: CaptureSummary
  /** Of its channel of the current, if it has one. */
  current?: CurrentReading | undefined
  interrupted: boolean
}

export interface CaptureSource extends SourceFile {
  output: OutputSetting
  probe: 'rails' | 'logic'
  /** The firmware build that it was taken with, where somebody says so: its SHA-256, or the first digits. */
  build?: string | undefined
  /** What of a design it is judged by, beside its output; made apart, as a capture alone is read sooner without. */
  context?: CaptureContext | undefined
}

/**
 * All that a capture shows.
 * @throws InputError when there is no signal in it.
 */
export function evidenceOfCapture(
  read: CaptureRead,
  { file, sha256, output, probe, build, context }: CaptureSource,
): RunEvidence {
  const { reading, summary, interrupted } = read
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
  const { madeBy } = summary
  const simulated = isSimulatedRecord(madeBy)
  const origin = simulated ? 'simulated' : 'measured'
  const made = madeBy?.firmware?.sha256 ?? build
  const found: RunEvidence = {
    kind: 'capture',
    outputs: name === undefined ? [] : [name],
    source,
    dependsOn: context?.dependsOn ?? '',
    statements: [
      ...signalStatements(reading, profile, { ...about, origin, place: { file, channel } }),
      ...(context?.refresh(reading, origin, source) ?? []),
      ...(summary.isAnalog && !simulated
        ? judgeAnalog(summary.analog, profile, { ...about, file, channel }, 'counts')
        : []),
      ...(simulated ? [] : serviceCurrent(read, output, { file, source })),
    ],
    notes: [],
    inputs: [{ role: 'capture', file, ...(sha256 === undefined ? {} : { sha256 }) }],
    ...(made === undefined ? {} : { build: made }),
    ...(simulated && madeBy?.firmware === undefined ? { withoutFirmware: true } : {}),
  }
  if (simulated) {
    const of = madeBy?.firmware?.name
    found.notes.push(find('capture-is-simulated', { file, ...(of === undefined ? {} : { firmware: of }) }))
  }
  found.notes.push(...signalNotes(reading))
  if (reading.packets.total === 0) found.notes.push(find('no-packet', { source }))
  for (const says of summary.notes) found.notes.push(find('capture-note', { file, says }))
  found.notes.push(...analogAdvice(summary.analog, probe))
  if (read.current && output.mode !== 'service') found.notes.push(find('current-not-judged', { file }))
  if (interrupted) found.notes.push(find('capture-stopped', { file }))
  return found
}

/** What the current shows; on a service track it is said when there is none. */
function serviceCurrent(
  { current, summary }: CaptureRead,
  { name, mode, profile }: OutputSetting,
  { file, source }: { file: string; source: string },
): Statement[] {
  if (mode !== 'service') return []
  const about = name === undefined ? {} : { about: name }
  const place = { file, channel: summary.currentChannel ?? '' }
  if (current && current.samples > 0)
    return [serviceCurrentEvidence(current, profile, { origin: 'measured', source, place, ...about })]
  const where = { file }
  return [notShown('service-current', 'measured', find('no-current', { source }), { ...about, where })]
}
