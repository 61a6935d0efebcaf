/**
 * A trip that closes again into a short that lasts. Each time lets its current through until it trips; all of them
 * together heat driver and wires like a lesser continuous current. What may flow continuously below the trip is judged
 * anyway, so that only more than that matters.
 */
import {
  between,
  type CornerQuestion,
  exactly,
  type Quantities,
  type Uncertain,
  type Values,
} from '../corner/index.js'
import { formatNumber, formatSi, formatTimeUs } from '../units/index.js'
import type { DistrictModel } from './district-model.js'
import { driverJunctionC, hottestCorner } from './driver-heat.js'
import { copperAmpacity } from './energy.js'
import { strongestAmp } from './share.js'
import { shortOutcome } from './short.js'
import type { SourceQuantity } from './source.js'

export type AgainQuantity = SourceQuantity | 'again'

/** Nobody's breaker or firmware is taken to close again sooner, nor a driver that trips by itself; assumed, no source. */
const AGAIN_US = { sense: 500_000, breaker: 500_000, driver: 50 } as const

/** Attempts into a short that were seen: how long each let it flow, and how long it was off before. */
export interface SeenAttempts {
  /** On the average, us. */
  onUs: number
  offUs: number
  /** The longest and the shortest. */
  longestOnUs: number
  shortestOffUs: number
}

type RepeatedPart = 'driver' | 'wire' | 'joint' | 'shunt' | 'pulse'

export interface RepeatedTrips {
  question: CornerQuestion<AgainQuantity>
  outcome(v: Values<AgainQuantity>): {
    amp: number
    onUs: number
    againUs: number
    rmsAmp: number
    what: 'flows' | RepeatedPart
    figure: string
    margin: number
  }
}

/**
 * @param seen attempts of a run, in place of what the design's figures give
 * @returns `undefined` for a district without a trip that acts, or whose driver's losses are not known
 */
export function repeatedTrips(m: DistrictModel, seen?: SeenAttempts): RepeatedTrips | undefined {
  const { stage, source, heats, load, sustained } = m
  const { trip } = stage.district
  if (!source?.trip?.reachable || !trip || !sustained) return undefined
  const short = shortOutcome(stage, source, heats, load)
  const least = (amps: number[]) => (amps.length > 0 ? Math.min(...amps) : undefined)
  const wireAmp = least([
    ...(load?.thinnestWireMm2 === undefined ? [] : [copperAmpacity(load.thinnestWireMm2)]),
    ...(load?.conductors ?? []).map((c) => c.amp ?? copperAmpacity(c.areaMm2)),
  ])
  const jointAmp = least((load?.joints ?? []).map((j) => j.amp))
  const shuntAmp = shuntRatedAmp(stage)
  const { ambientC } = heats.most.heat
  const { junctionMaxC } = stage.model
  const junctionAt = (amp: number, volt: number) =>
    driverJunctionC([stage], new Map([[stage.name, amp]]), ambientC, {
      ...hottestCorner(stage),
      volt,
    })
  const outcome: RepeatedTrips['outcome'] = (v) => {
    const { amp, offUs } = short(v)
    const onUs = seen ? seen.onUs : offUs
    const found = { amp, onUs, againUs: v.again, rmsAmp: 0, what: 'flows' as const, figure: '', margin: 1 }
    // What never trips, or what the supply ends, is for the short itself.
    if (!Number.isFinite(onUs)) return found
    const rmsAmp = amp * Math.sqrt(onUs / (onUs + v.again))
    if (rmsAmp <= sustained.high) return { ...found, rmsAmp, margin: 1 - rmsAmp / sustained.high }
    const junctionC = junctionAt(rmsAmp, v.volt)
    const parts: { what: RepeatedPart; figure: string; margin: number }[] = []
    if (wireAmp !== undefined)
      parts.push({
        what: 'wire',
        figure: formatSi(wireAmp, 'A', 3),
        margin: 1 - rmsAmp / wireAmp,
      })
    if (jointAmp !== undefined)
      parts.push({
        what: 'joint',
        figure: formatSi(jointAmp, 'A', 3),
        margin: 1 - rmsAmp / jointAmp,
      })
    if (shuntAmp !== undefined)
      parts.push({
        what: 'shunt',
        figure: formatSi(shuntAmp, 'A', 3),
        margin: Math.max(-1, 1 - (rmsAmp / shuntAmp) ** 2),
      })
    if (junctionC !== undefined && junctionMaxC !== undefined) {
      const margin = Math.max(-1, (junctionMaxC - junctionC) / (junctionMaxC - ambientC))
      const figure = Number.isFinite(junctionC) ? `${formatNumber(junctionC, 3)} °C` : 'any temperature'
      parts.push({ what: 'driver', figure, margin })
      const { us } = heats.most.standsUs(
        strongestAmp(stage.model, stage.channels.length, amp),
        stage.name,
        Math.min(junctionC, junctionMaxC),
        seen ? seen.shortestOffUs : v.again,
      )
      if (us !== undefined && Number.isFinite(us))
        parts.push({
          what: 'pulse',
          figure: formatTimeUs(us, 3),
          margin: us > 0 ? Math.max(-1, 1 - (seen ? seen.longestOnUs : onUs) / us) : -1,
        })
    }
    const worst = parts.reduce(
      (a, b) => (b.margin < a.margin ? b : a),
      parts[0] ?? { ...found, what: 'driver', margin: -0.01, figure: 'an unknown temperature' },
    )
    return { ...found, rmsAmp, ...worst }
  }
  const quantities: Quantities<AgainQuantity> = {
    ...source.quantities,
    again: seen ? seenOff(seen, stage.name) : againOf(trip, stage.name),
  }
  return {
    outcome,
    question: {
      quantities,
      margin: (v) => outcome(v).margin,
      unfavourable: {
        again: 'low',
        trip: 'high',
        delay: 'high',
        clock: 'high',
        hiccupOn: 'high',
        limitLasts: 'high',
        holdUp: 'high',
        capacitor: 'high',
        response: 'high',
        peak: 'low',
      },
    },
  }
}

/** What the shunt carries continuously, A; `undefined` without one, or without its rating. */
function shuntRatedAmp({ district: { sense } }: DistrictModel['stage']): number | undefined {
  if (sense?.kind !== 'shunt' || sense.power === undefined || !sense.resistance) return undefined
  return Math.sqrt(sense.power / (sense.resistance * (1 + sense.tolerance)))
}

function seenOff({ offUs }: SeenAttempts, district: string): Uncertain {
  return exactly(`time until the trip of ${district} closes again`, offUs, 'us', 'the run')
}

function againOf(trip: NonNullable<DistrictModel['stage']['district']['trip']>, district: string): Uncertain {
  const name = `time until the trip of ${district} closes again`
  if (trip.again !== undefined) return exactly(name, trip.again, 'us', 'the design')
  const low = AGAIN_US[trip.by]
  const source = `not given, at least ${formatTimeUs(low)} assumed`
  return { ...between(name, { low, high: Number.POSITIVE_INFINITY }, 'us', source), unknown: true }
}
