/** The figures of one power district. */
import { type AckReport, ackReport } from './ack-report.js'
import type { DistrictModel } from './district-model.js'
import type { DistrictTrip } from './district-trip.js'
import type { FuseModel } from './fuse.js'
import type { DistrictLoad } from './load.js'
import type { InrushReport, PowerUp } from './power-up.js'
import type { SenseChain } from './sense.js'
import type { SenseStressModel } from './sense-stress.js'
import { type ShortReport, shortReport } from './short.js'
import { besideOf, chainOf, type DistrictSource, type DistrictStage, districtSource } from './stage.js'
import { FUSES, fuseFor } from './supply.js'
import { type TrackVoltage, trackVoltage } from './voltage.js'

export interface DistrictReport {
  name: string
  driver: string
  supply: string
  output?: string
  channels: number
  load?: DistrictLoad
  /** What may flow continuously: up to the top of the trip's band, else everything stalled, A. */
  sustainedAmp?: number
  source?: DistrictSource
  voltage?: TrackVoltage
  sense?: SenseChain
  trip?: Omit<DistrictTrip, 'timeUs' | 'latestUs' | 'soonestUs' | 'settings'> & {
    curve: { amp: number; bestUs: number; worstUs: number }[]
  }
  short?: ShortReport
  inrush?: InrushReport
  acknowledgement?: AckReport
  /** Fuse that protects it, its own or that of its supply. */
  fuse?: Pick<FuseModel, 'own' | 'ratingAmp' | 'breaksAmp'>
  adviseFuseAmp?: number
}

export interface DistrictParts {
  powerUp?: PowerUp
  fuse?: FuseModel
  stress?: SenseStressModel
}

export function districtReport(
  m: DistrictModel,
  parts: DistrictParts,
  stages: readonly DistrictStage[],
  loads: ReadonlyMap<string, DistrictLoad | undefined>,
  ack: { seed: number; conversions: number },
  missing: string[],
): DistrictReport {
  const { stage, load, sustained } = m
  const { name, district } = stage
  const miss = (text: string) => missing.push(`district "${name}": ${text}`)
  const report: DistrictReport = {
    name,
    driver: stage.driverName,
    supply: stage.supplyName,
    channels: stage.channels.length,
  }
  if (stage.output !== undefined) report.output = stage.output
  if (load) report.load = load
  else miss('what it feeds, so budget and voltage under load are not shown')
  if (sustained) report.sustainedAmp = sustained.high
  const beside = besideOf(stage, stages, (other) => loads.get(other)?.runningAmp ?? 0)
  const source = districtSource(stage, sustained?.high ?? 1, m.hotC, beside)
  if (source) {
    report.source = source
    report.voltage = trackVoltage(stage, load, m.hotC, beside)
  } else miss('the losses of its driver, so track voltage and shorts are not shown')
  const chain = chainOf(stage)
  if (chain) report.sense = chain
  const trip = m.source?.trip
  if (trip) report.trip = tripCurve(trip, load, sustained?.high)
  else if (!district.trip) miss('a trip, so shorts are not judged')
  if (m.source) {
    const short = shortReport(stage, m.source, m.heats, load)
    if (short) report.short = short
  }
  if (parts.powerUp) report.inrush = parts.powerUp.report
  if (parts.fuse) {
    const { own, ratingAmp, breaksAmp } = parts.fuse
    report.fuse = { own, ratingAmp, breaksAmp }
  }
  if (district.acknowledgement && chain)
    report.acknowledgement = ackReport(stage, chain, ack.seed, ack.conversions)
  if (load) {
    const fuseAmp = fuseFor(Math.max(load.worstAmp, sustained?.high ?? 0))
    // No usual fuse carries more than the largest of them.
    if (fuseAmp <= FUSES.at(-1)!) report.adviseFuseAmp = fuseAmp
  }
  return report
}

function tripCurve(
  trip: DistrictTrip,
  load: DistrictLoad | undefined,
  sustainedAmp: number | undefined,
): NonNullable<DistrictReport['trip']> {
  const { timeUs, latestUs: _late, soonestUs: _soon, settings: _, ...plain } = trip
  const before = load?.runningAmp ?? 0
  const top = Math.max(trip.highAmp * 4, 2 * (sustainedAmp ?? 0))
  const curve = Array.from({ length: Number.isFinite(trip.highAmp) ? 32 : 0 }, (_point, i) => {
    const amp = trip.highAmp * (1.001 + (top / trip.highAmp - 1.001) * (i / 31) ** 2)
    // Soonest with the filter full of the usual current, latest with it empty: a short may come right after power-up.
    const { bestUs } = timeUs(amp, Math.min(before, trip.nominalAmp))
    return { amp, bestUs, worstUs: timeUs(amp, 0).worstUs }
  })
  return { ...plain, curve }
}
