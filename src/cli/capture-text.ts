/** The words of `halfbit capture` beside verdicts and figures: the record, its making, its voltages, its packets. */
import type { AnalogReading, CaptureSummary, MadeBy } from '../capture/index.js'
import type { PacketJson, SignalReading } from '../signal/index.js'
import type { Profile } from '../standard/index.js'
import { formatNumber, formatRange, formatTimeUs } from '../units/index.js'

export function recordText(
  file: string,
  reading: SignalReading,
  summary: CaptureSummary,
  profile: Profile,
): string[] {
  const span = formatRange(summary.startUs, summary.endUs, 'us', 6)
  const resolution = reading.resolutionUs === 0 ? 'exactly' : `to ${formatTimeUs(reading.resolutionUs, 3)}`
  return [
    `Capture   ${file}: ${summary.dialect}`,
    `Channel   ${summary.channels.join(' minus ')}`,
    `Time      ${span}, ${reading.edges} edges, each known ${resolution} (${summary.resolutionFrom})`,
    ...madeByText(summary.madeBy),
    `Standard  ${profile.title}, ${profile.documents}, ${profile.scale} scale`,
  ]
}

/** An export of ours is no measurement, whatever became of it since. */
function madeByText(madeBy: MadeBy | undefined): string[] {
  if (madeBy === undefined || madeBy.command === 'capture') return []
  const { command, firmware } = madeBy
  const from = firmware ? ` from firmware ${firmware.name}, SHA-256 ${firmware.sha256.slice(0, 12)}…` : ''
  return [`Made by   halfbit ${command}${from}: simulated, not measured`]
}

export function packetText(p: PacketJson): string {
  const says = `${p.valid ? '' : 'NOT VALID: '}${p.says}`
  return `${formatTimeUs(p.tUs, 8).padStart(12)}  ${String(p.preamble).padStart(3)}  ${p.hex.padEnd(17)}  ${says}`
}

export function analogText(a: AnalogReading): string[] {
  const n = (value: number, digits = 3) => formatNumber(value, digits)
  const lines = [
    `Levels    ${n(a.lowVolt, 4)} V and ${n(a.highVolt, 4)} V, from ${formatRange(a.minVolt, a.maxVolt, 'V', 4)}, RMS ${n(a.rmsVolt, 4)} V`,
    `Noise     ${n(a.noiseVolt)} V rms on the plateaus, converter steps of ${n(a.stepVolt)} V`,
  ]
  for (const [direction, s] of [
    ['rising', a.slope?.rising],
    ['falling', a.slope?.falling],
  ] as const) {
    if (s && s.edges > 0)
      lines.push(
        `Slope     ${direction}: slowest ${n(s.slowest)} V/us, mean ${n(s.mean)} V/us of ${s.edges}, between -4 and +4 V`,
      )
  }
  if (a.slope && a.slope.coarse > 0)
    lines.push(
      `Slope     at least ${n(a.slope.coarseBound)} V/us on ${a.slope.coarse} edges with fewer than two samples inside`,
    )
  return lines
}
