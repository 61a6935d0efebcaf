/** From the figures of the power stage to evidence about the clauses. No figure, no evidence. */
import {
  type ClauseId,
  type Evidence,
  marginWithin,
  rmsCeilingVolt,
  type Verdict,
  verdictOfCases,
} from '../standard/index.js'
import { formatNumber, formatSi, formatTimeUs } from '../units/index.js'
import { ACK_CHANCE_LIMIT } from './acknowledgement.js'
import { PIN_RATINGS } from './pin-ratings.data.js'
import type {
  AckReport,
  DistrictReport,
  DriverReport,
  PowerInput,
  PowerReport,
  ShortReport,
  SupplyReport,
} from './report.js'
import type { DistrictStage } from './stage.js'

const n = formatNumber
const amp = (value: number) => formatSi(value, 'A', 3)

/** Stands for never in evidence, us: an hour. JSON knows no infinity. */
const NEVER_US = 3600e6

export function powerEvidence(
  report: Omit<PowerReport, 'evidence'>,
  input: PowerInput,
  stages: readonly DistrictStage[],
): Evidence[] {
  const list: Evidence[] = []
  for (const d of report.districts) {
    const stage = stages.find((s) => s.name === d.name)!
    list.push(...voltageEvidence(d, input, stage))
    if (d.short) list.push(shortEvidence(d, d.short, stage))
    if (d.acknowledgement) list.push(ackEvidence(d.name, d.acknowledgement))
  }
  for (const driver of report.drivers) {
    const stage = stages.find((s) => s.driverName === driver.name)!
    list.push(...driverEvidence(driver, stage, input))
  }
  for (const s of report.supplies) list.push(...supplyEvidence(s, input))
  list.push(...pinEvidence(report, input))
  const r = report.regulator
  if (r) {
    const what =
      r.limit === 'heat'
        ? `${n(r.watt, 3)} W in the regulator: junction ${n(r.junctionC, 3)} of ${n(r.junctionMaxC)} °C`
        : r.limit === 'current'
          ? `regulator current ${amp(input.power.controller!.current)}`
          : `${n(r.inputVolt, 3)} V at the regulator's input`
    list.push(
      shareEvidence('regulator-heat', 'controller', r.share, `${what}; figures of its package unless given`),
    )
  }
  return list
}

function limited(
  clause: ClauseId,
  about: string,
  value: Evidence['value'],
  limits: { min?: number | undefined; max?: number | undefined },
  because: string,
): Evidence {
  const margin = marginWithin(value.low, value.high, limits)
  return {
    clause,
    origin: 'calculated',
    verdict: margin >= 0 ? 'met' : 'broken',
    value,
    margin,
    about,
    because,
  }
}

/** A voltage in its unfavourable and its favourable case: judged as the track judges it. */
function limitedInCases(...args: Parameters<typeof limited>): Evidence {
  const e = limited(...args)
  const [, , { low, high }, limits] = args
  const inside = (volt: number) => marginWithin(volt, volt, limits) >= 0
  return { ...e, verdict: verdictOfCases(inside(low) && inside(high), inside(low) || inside(high)) }
}

/** A share of a rating: 1 is the rating. */
function shareEvidence(
  clause: ClauseId,
  about: string,
  share: number,
  because: string,
  verdict?: Verdict,
): Evidence {
  // JSON knows no infinity: a thousand times the rating stands for all beyond.
  const high = Math.min(share, 1000)
  const e = limited(clause, about, { low: high, high, unit: 'share' }, { max: 1 }, because)
  return verdict ? { ...e, verdict, margin: verdict === 'undecided' ? 0 : e.margin } : e
}

function voltageEvidence(d: DistrictReport, input: PowerInput, stage: DistrictStage): Evidence[] {
  const v = d.voltage
  if (!v) return []
  const { clauses, profile, edition, scale } = input.profile
  const supply = stage.supply
  const supplyText = `supply ${n(supply.voltage)} V ± ${n(supply.tolerance * 100)} %`
  const list = [
    limitedInCases(
      'track-voltage-max',
      d.name,
      { low: v.rmsVolt, high: v.highestVolt, unit: 'V' },
      { max: clauses['track-voltage-max'].sender.max },
      `${supplyText} without load, nothing lost in the driver`,
    ),
  ]
  const ceiling = rmsCeilingVolt({ profile, edition, scale })
  if (ceiling !== undefined) {
    const limits = { max: ceiling }
    list.push({
      ...limitedInCases(
        'track-voltage-max',
        `${d.name}, RMS`,
        { low: v.rmsVolt, high: v.highestVolt, unit: 'V' },
        limits,
        `the RMS of a symmetric square wave is its peak; this edition allows ${ceiling} V RMS at ${scale} scale`,
      ),
      limits,
    })
  }
  const at = v.atWorst
  if (at && d.load) {
    const { sender, receiver } = clauses['track-voltage-min']
    const low = Math.min(at.weakVolt, at.otherVolt)
    let because = `${supplyText} less ${n(supply.resistance * 1000)} mOhm, sense and ${stage.model.name} at ${amp(at.amp)}, hot, weaker polarity`
    if (sender.min !== undefined && receiver?.min !== undefined && low < sender.min && low >= receiver.min) {
      because += `; decoders should still work from ${receiver.min} V`
    }
    list.push(
      limitedInCases(
        'track-voltage-min',
        d.name,
        { low, high: at.typicalVolt, unit: 'V' },
        { min: sender.min },
        because,
      ),
    )
  }
  return list
}

/**
 * A short at the terminals in two cases: with the most that supply and driver may give, which the driver must stand
 * until the trip, and with the least that they surely give, which must trip all the same.
 */
function shortEvidence(d: DistrictReport, s: ShortReport, stage: DistrictStage): Evidence {
  const most = mostShortEvidence(d, s)
  if (!Number.isFinite(s.tripUs) || Number.isFinite(s.leastTripUs)) return most
  const { limit, limitCurrent } = stage.supply
  const given =
    limit !== 'none' && limitCurrent === undefined
      ? 'the supply surely gives (its limit is not known, so no more than its rating beside the others)'
      : 'supply and driver surely give beside the others'
  return {
    ...most,
    // Broken stays broken; met is more than can be said.
    verdict: most.verdict === 'met' ? 'undecided' : most.verdict,
    value: { low: most.value.low, high: NEVER_US, unit: 'us' },
    margin: -1,
    because: `${most.because}; but with the ${amp(s.leastAmp)} that ${given} it never trips: that takes ${amp(d.trip!.highAmp)}`,
  }
}

/** Where a trip may truly lie, in words. */
export function between(trip: { lowAmp: number; highAmp: number }): string {
  return Number.isFinite(trip.highAmp)
    ? `between ${amp(trip.lowAmp)} and ${amp(trip.highAmp)}`
    : `anywhere above ${amp(trip.lowAmp)}, as its current sense may be off by all it reads`
}

function mostShortEvidence(d: DistrictReport, s: ShortReport): Evidence {
  const limits = [
    { us: s.driverStandsUs ?? s.driverStandsAtMostUs, what: s.driverBecause },
    { us: s.wireStandsUs, what: `the thinnest wire stands ${n(s.wireA2s ?? 0, 3)} A²s` },
  ].filter((l): l is { us: number; what: string } => l.us !== undefined)
  const tightest = limits.length ? limits.reduce((a, b) => (b.us < a.us ? b : a)) : undefined
  const value = { low: s.tripUs, high: s.tripUs, unit: 'us' }
  const held = {
    supply: 'the supply holds it',
    driver: "the driver's own limit holds it",
    resistance: 'only resistance holds it',
  }[s.heldBy]
  const short = `short at the terminals ${amp(s.amp)} (${held})`
  const base = { clause: 'short-trip', origin: 'calculated', value, about: d.name } as const
  if (!Number.isFinite(s.tripUs)) {
    return {
      ...base,
      value: { low: NEVER_US, high: NEVER_US, unit: 'us' },
      verdict: 'broken',
      margin: -1,
      because: d.trip!.reachable
        ? `${short} never certainly trips: the trip lies ${between(d.trip!)}`
        : `${short} never certainly trips: ${d.trip!.because}`,
    }
  }
  if (!tightest) {
    return {
      ...base,
      verdict: 'undecided',
      margin: 0,
      because: `${short} trips after ${formatTimeUs(s.tripUs, 3)} at the latest; what driver and wire stand is not known`,
    }
  }
  const margin = Number.isFinite(tightest.us)
    ? Math.max(-1, tightest.us > 0 ? (tightest.us - s.tripUs) / tightest.us : -1)
    : 1
  if (s.driverStandsUs === undefined && margin >= 0) {
    return {
      ...base,
      verdict: 'undecided',
      margin: 0,
      because: `${short} trips after ${formatTimeUs(s.tripUs, 3)} at the latest; how long the driver stands it is not known: ${s.driverBecause}`,
    }
  }
  const stands = Number.isFinite(tightest.us)
    ? `${formatTimeUs(tightest.us, 3)} allowed: ${tightest.what}`
    : 'driver and wire stand it for ever'
  return {
    ...base,
    verdict: margin >= 0 ? 'met' : 'broken',
    margin,
    because: `${short} trips after ${formatTimeUs(s.tripUs, 3)} at the latest; ${stands}`,
  }
}

function driverEvidence(driver: DriverReport, stage: DistrictStage, input: PowerInput): Evidence[] {
  const { model, supply } = stage
  const list: Evidence[] = []
  const highest = supply.voltage * (1 + supply.tolerance)
  const lowest = supply.voltage * (1 - supply.tolerance)
  const shares: { share: number; because: string }[] = []
  for (const c of driver.channelAmps) {
    const strongest = c.sharing.amps[0]!
    const channels = c.sharing.amps.length
    const split = channels > 1 ? `, the strongest of ${channels} channels taking ${amp(strongest)}` : ''
    if (model.continuousAmp !== undefined) {
      shares.push({
        share: strongest / model.continuousAmp,
        because: `${c.district}: ${amp(c.totalAmp)}${split} of ${amp(model.continuousAmp)} continuous`,
      })
      if (channels > 1 && model.continuousParallelAmp !== undefined) {
        shares.push({
          share: c.totalAmp / model.continuousParallelAmp,
          because: `${c.district}: ${amp(c.totalAmp)} of ${amp(model.continuousParallelAmp)} for parallel channels`,
        })
      }
    } else if (model.peakAmp !== undefined) {
      shares.push({
        share: strongest / model.peakAmp,
        because: `${c.district}: ${amp(c.totalAmp)}${split} of ${amp(model.peakAmp)} peak (the sheet gives no continuous current: its heat decides)`,
      })
    }
  }
  if (model.supplyMaxVolt !== undefined && (shares.length > 0 || highest > model.supplyMaxVolt)) {
    shares.push({
      share: highest / model.supplyMaxVolt,
      because: `supply up to ${n(highest, 3)} V of ${n(model.supplyMaxVolt)} V`,
    })
  }
  if (model.supplyMinVolt !== undefined && lowest < model.supplyMinVolt) {
    shares.push({
      share: model.supplyMinVolt / lowest,
      because: `supply down to ${n(lowest, 3)} V, below the ${n(model.supplyMinVolt)} V it needs`,
    })
  }
  if (shares.length) {
    const worst = shares.reduce((a, b) => (b.share > a.share ? b : a))
    list.push(shareEvidence('driver-current', driver.name, worst.share, `${model.name}, ${worst.because}`))
  }
  if (driver.watt !== undefined && (driver.junctionC === undefined || driver.junctionMaxC === undefined)) {
    const what =
      driver.junctionC === undefined
        ? 'its thermal resistance to the air'
        : 'its highest junction temperature'
    list.push({
      clause: 'driver-heat',
      origin: 'calculated',
      verdict: 'undecided',
      // Anything from the air around it to running away.
      value: { low: driver.ambientC, high: 1000, unit: '°C' },
      margin: 0,
      about: driver.name,
      because: `${model.name}: the heat of ${n(driver.watt, 3)} W is not judged, as ${what} is not known`,
    })
  }
  if (driver.junctionC !== undefined && driver.junctionMaxC !== undefined) {
    const max = driver.junctionMaxC
    const runaway = !Number.isFinite(driver.junctionC)
    const high = runaway ? 1000 : driver.junctionC
    const share = max > driver.ambientC ? (max - high) / (max - driver.ambientC) : -1
    list.push({
      clause: 'driver-heat',
      origin: 'calculated',
      verdict: high >= max ? 'broken' : driver.without.length > 0 ? 'undecided' : 'met',
      value: { low: driver.ambientC, high, unit: '°C' },
      margin: high < max && driver.without.length > 0 ? 0 : Math.max(-1, Math.min(1, share)),
      about: driver.name,
      because: runaway
        ? `${model.name} at ${n(driver.thermal!)} K/W runs away: each kelvin makes more heat than the cooling takes`
        : `${n(driver.watt!, 3)} W (${driver.parts.map((p) => `${n(p.watt, 2)} W ${p.what}`).join(', ')}) · ${n(driver.thermal!, 3)} K/W over ${n(driver.ambientC)} °C; limit ${n(max)} °C${driver.without.length > 0 ? `; without the heat of ${driver.without.join(' and ')}` : ''}`,
    })
  }
  if (driver.slopeVoltPerUs !== undefined) {
    const slope = Math.min(driver.slopeVoltPerUs, 1e4)
    list.push(
      limited(
        'edge-rate',
        driver.name,
        { low: slope, high: slope, unit: 'V/us' },
        { min: input.profile.clauses['edge-rate'].sender.min },
        `typical rise, fall and delays of ${model.name} at ${n(supply.voltage)} V, without load or wiring`,
      ),
    )
  }
  if (driver.slopeVoltPerUs === undefined && supply.voltage > 4) {
    list.push({
      clause: 'edge-rate',
      origin: 'calculated',
      verdict: 'undecided',
      value: { low: 0, high: 1e4, unit: 'V/us' },
      margin: 0,
      about: driver.name,
      because: `the rise, fall and delay times of ${model.name} are not all known; measure its edges`,
    })
  }
  return list
}

function supplyEvidence(s: SupplyReport, input: PowerInput): Evidence[] {
  const list: Evidence[] = []
  const supply = input.power.supplies[s.name]!
  if (s.without.length === 0 && s.rows.length > 0) {
    list.push(
      shareEvidence(
        'supply-current',
        s.name,
        s.worstAmp / s.ratingAmp,
        `worst credible load ${amp(s.worstAmp)} of a rating of ${amp(s.ratingAmp)}; ${amp(s.runningAmp)} usual`,
      ),
    )
  }
  if (s.neededToTripAmp !== undefined && s.without.length === 0) {
    const share = s.neededToTripAmp / s.capableAmp
    const from =
      supply.limitCurrent !== undefined
        ? 'its limit'
        : supply.limit === 'none'
          ? 'its rating; it has no limit and may give more'
          : 'its rating, as its limit is not known'
    let because = `to trip district ${s.neededBy} with the rest running it must give ${amp(s.neededToTripAmp)}; it gives ${amp(s.capableAmp)} (${from})`
    let verdict: Verdict | undefined
    if (share <= 1 && supply.limit === 'foldback') {
      verdict = 'undecided'
      because += '; a foldback limit gives less into a short, measure it'
    }
    list.push(shareEvidence('supply-current', `${s.name}, to trip`, share, because, verdict))
  }
  return list
}

function ackEvidence(name: string, a: AckReport): Evidence {
  const { rule, chances, played } = a
  // The play sees what the closed form cannot (sampling in step with chopping); beyond chance it goes before.
  const sigma = Math.sqrt(Math.max(chances.miss * (1 - chances.miss), 1 / played.runs) / played.runs)
  const miss = played.miss > chances.miss + 5 * sigma ? played.miss : chances.miss
  const worst = Math.max(miss, chances.false)
  const how = a.proposed ? 'proposed rule' : 'rule'
  return {
    clause: 'ack-detect',
    origin: 'calculated',
    verdict: worst <= ACK_CHANCE_LIMIT ? 'met' : 'broken',
    value: { low: Math.min(miss, chances.false), high: worst, unit: 'share' },
    // In decades: 1 at a thousandth of the allowed chance, 0 at it, −1 at certainty.
    margin: Math.max(-1, Math.min(1, Math.log10(ACK_CHANCE_LIMIT / Math.max(worst, 1e-12)) / 3)),
    about: name,
    because:
      `${how} ${rule.samples} of ${rule.of} samples above ${amp(rule.thresholdAmp)} at ${n(a.situation.rate)} /s: ` +
      `misses ${chance(miss)}, false ${chance(chances.false)} per operation (${chances.method}; at most ${chance(ACK_CHANCE_LIMIT)}, common practice)`,
  }
}

/** A chance in words that stay readable when small. */
export function chance(p: number): string {
  if (p <= 1e-12) return 'less than 1 in 1e12'
  if (p >= 0.05) return `${n(p * 100, 2)} %`
  const odds = 1 / p
  return `1 in ${odds < 1e6 ? n(odds, 2) : odds.toExponential(0).replace('+', '')}`
}

function pinEvidence(report: Omit<PowerReport, 'evidence'>, input: PowerInput): Evidence[] {
  const { rows, conflicts } = report.pins
  if (rows.length === 0) return []
  const list: Evidence[] = [
    {
      clause: 'pin-conflict',
      origin: 'calculated',
      verdict: conflicts.length ? 'broken' : 'met',
      value: { low: conflicts.length, high: conflicts.length, unit: 'pins' },
      margin: conflicts.length ? -1 : 1,
      count: { seen: rows.length, outside: conflicts.length },
      about: 'driver boards',
      because: conflicts.length
        ? conflicts.join('; ')
        : rows.length === 1
          ? 'the pin of the driver boards meets the controller pin it should'
          : `${rows.length} pins of the driver boards each meet the controller pin they should`,
    },
  ]
  const chip = input.controller?.chip
  const rating = chip !== undefined && Object.hasOwn(PIN_RATINGS, chip) ? PIN_RATINGS[chip] : undefined
  if (!rating) return list
  /** Controller pin → current; one pin may feed several inputs. */
  const pins = new Map<string, number>()
  let unknown = 0
  for (const row of rows) {
    if (row.meets === undefined || row.tied || row.role === 'sense') continue
    if (row.amp === undefined) unknown++
    else pins.set(row.meets, (pins.get(row.meets) ?? 0) + row.amp)
  }
  if (pins.size === 0) return list
  const [pin, worst] = [...pins].reduce((a, b) => (b[1] > a[1] ? b : a))
  const total = [...pins.values()].reduce((a, b) => a + b, 0)
  const single = worst / rating.pinAmp
  const all = rating.totalAmp === undefined ? 0 : total / rating.totalAmp
  const because =
    single >= all
      ? `${pin} carries ${amp(worst)} of ${amp(rating.pinAmp)}`
      : `all pins together carry ${amp(total)} of ${amp(rating.totalAmp!)}`
  const share = Math.max(single, all)
  const open = unknown
    ? `; the current of ${unknown} more ${unknown === 1 ? 'pin' : 'pins'} is not known`
    : ''
  list.push(
    shareEvidence(
      'pin-current',
      chip!,
      share,
      `${because} (absolute limits, ${rating.sheet}, ${rating.status})${open}`,
      unknown && share <= 1 ? 'undecided' : undefined,
    ),
  )
  return list
}
