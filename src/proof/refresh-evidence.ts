/** How often a run or a capture really refreshed the addresses of the fleet. */
import { type LoadedDesign, profileOfDesign } from '../design/index.js'
import type { SignalReading } from '../signal/index.js'
import type { Statement } from '../standard/index.js'
import { refreshSeen, resolveTraffic, trafficInputOf } from '../traffic/index.js'
import { dependsOn } from './depends-on.js'

/** What of a design a capture is judged by. */
export interface CaptureContext {
  dependsOn: string
  refresh(reading: SignalReading, origin: 'simulated' | 'measured', source: string): Statement[]
}

/** @param output that the capture shows. */
export function captureContext(loaded: LoadedDesign, output: string): CaptureContext {
  return {
    dependsOn: dependsOn(loaded.design, 'capture'),
    refresh: (reading, origin, source) => refreshOf(loaded, output, reading, origin, source),
  }
}

/** Nothing for outputs that the fleet does not run on, nor from a record shorter than the time-outs. */
export function refreshOf(
  loaded: LoadedDesign,
  output: string,
  reading: SignalReading,
  origin: 'simulated' | 'measured',
  source: string,
): Statement[] {
  const { fleet } = loaded.design
  if (!fleet) return []
  const { locomotives, input } = resolveTraffic(trafficInputOf({ ...loaded.design, fleet }))
  if (input.traffic.output !== output) return []
  return refreshSeen(locomotives, reading.addresses, profileOfDesign(loaded).clauses.refresh, {
    origin,
    source,
    ranUs: reading.endUs - reading.startUs,
    about: output,
  }).filter((e) => e.verdict !== 'undecided')
}
