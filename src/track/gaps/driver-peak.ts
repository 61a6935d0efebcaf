/** What a wheel across opposed sides draws at first, before any limit acts, against what their drivers withstand. */
import type { Finding } from '../../finding/index.js'
import type { Verdict } from '../../standard/index.js'
import { trackFindings } from '../findings.data.js'
import type { Joint } from '../layout/layout.js'
import type { TrackModel } from '../model.js'
import { runningAmp } from './skew.js'

/** @returns `undefined` where both drivers withstand it */
export function driverPeakAt(
  { net, plan }: TrackModel,
  joint: Joint,
  amp: { low: number; high: number },
): { verdict: Verdict; finding: Finding } | undefined {
  // Where only a source is given, nothing is told of its driver.
  const found = [joint.a, joint.b].map((end) => {
    const d = net.districtOfTrack[end >> 1]!
    const { standsAtFirst, wiring } = net.sources[d]!
    const verdict = standsAtFirst?.(amp, runningAmp(plan, net, d)) ?? 'met'
    return { district: net.districts[d]!, driver: wiring?.part?.name, verdict }
  })
  const worst = found.find((f) => f.verdict === 'broken') ?? found.find((f) => f.verdict === 'undecided')
  if (!worst) return undefined
  const { district, driver, verdict } = worst
  const isSure = verdict === 'broken'
  const finding = trackFindings.find('gap-driver-peak', {
    joint: joint.name,
    amp: amp.high,
    driver,
    district,
    isSure,
  })
  return { verdict, finding }
}
