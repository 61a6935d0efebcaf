/** What to change, in words with the recomputed figure: the reading behind each broken clause of the power stage. */
import { formatNumber, formatSi, formatTimeUs } from '../units/index.js'
import type { PowerDesign } from './design/index.js'
import type { DistrictReport } from './district-report.js'
import type { DriverReport, PowerReport } from './report.js'
import { FUSE_LOAD, FUSE_MELTS, fuseFor, SUPPLY_RESERVE } from './supply.js'

const n = formatNumber
const amp = (value: number) => formatSi(value, 'A', 3)

export function powerAdvice(report: Omit<PowerReport, 'evidence' | 'advice'>, power: PowerDesign): string[] {
  const lines: string[] = []
  for (const s of report.supplies) {
    if (s.without.length === 0 && s.worstAmp > s.ratingAmp) {
      lines.push(
        `Supply ${s.name}: take one rated ${amp(s.adviseRatingAmp)} or more (worst load ${amp(s.worstAmp)} with ${n((SUPPLY_RESERVE - 1) * 100)} % reserve), or run fewer trains.`,
      )
    }
    if (s.neededToTripAmp !== undefined && s.neededToTripAmp > s.capableAmp) {
      const trip = power.districts[s.neededBy!]!.trip!.current
      const lower = trip - (s.neededToTripAmp - s.capableAmp) * 1.1
      const instead = lower > 0 ? `, or lower the trip current of ${s.neededBy} to ${amp(lower)} or less` : ''
      lines.push(
        `Supply ${s.name}: it cannot give the ${amp(s.neededToTripAmp)} it takes to trip ${s.neededBy}, so a short there may burn on. Take a stronger supply${instead}.`,
      )
    }
  }
  for (const d of report.districts) lines.push(...fuseAdvice(d, report, power))
  for (const d of report.drivers) lines.push(...driverAdvice(d))
  for (const d of report.districts) lines.push(...districtAdvice(d))
  const r = report.regulator
  if (r && r.share > 1) {
    lines.push(
      r.limit === 'heat'
        ? `Controller: feed it from a supply of its own or over a switching regulator; the linear one would make ${n(r.watt, 3)} W.`
        : `Controller: its regulator is beyond its ${r.limit}; feed it from a supply of its own.`,
    )
  }
  return lines
}

function fuseAdvice(
  d: DistrictReport,
  report: Omit<PowerReport, 'evidence' | 'advice'>,
  power: PowerDesign,
): string[] {
  const { fuse } = power.districts[d.name]!
  if (fuse === undefined) return []
  const lines: string[] = []
  if (d.load && d.load.worstAmp > fuse * FUSE_LOAD) {
    lines.push(
      `District ${d.name}: its worst load of ${amp(d.load.worstAmp)} is more than a fuse of ${amp(fuse)} carries for long (${n(FUSE_LOAD * 100)} %); take ${amp(fuseFor(d.load.worstAmp))}, if its wires carry that.`,
    )
  }
  const supply = report.supplies.find((s) => s.name === d.supply)!
  if (supply.capableAmp < FUSE_MELTS * fuse) {
    lines.push(
      `District ${d.name}: the supply's ${amp(supply.capableAmp)} do not melt a fuse of ${amp(fuse)} in useful time (that takes about ${n(FUSE_MELTS)} times its rating); only the trip ends a short there.`,
    )
  }
  return lines
}

function driverAdvice(d: DriverReport): string[] {
  const lines: string[] = []
  if (d.suits === 'no') lines.push(`Driver ${d.name}: take another part; ${d.remark}`)
  if (
    d.junctionC !== undefined &&
    d.junctionMaxC !== undefined &&
    d.watt !== undefined &&
    d.junctionC > d.junctionMaxC
  ) {
    // The loss at the limit is what the cooling has to carry then.
    const most = (d.junctionMaxC - 20 - d.ambientC) / d.watt
    lines.push(
      most > 0
        ? `Driver ${d.name}: ${n(d.watt, 3)} W wants ${n(most, 2)} K/W or less from junction to air (20 K below its limit); now ${n(d.thermal!, 3)} K/W. A sink, a fan, or parallel channels.`
        : `Driver ${d.name}: the air around it is too warm for it.`,
    )
  }
  return lines
}

function districtAdvice(d: DistrictReport): string[] {
  const lines: string[] = []
  const { trip, inrush, short, load, acknowledgement: ack } = d
  if (trip?.because !== undefined)
    lines.push(
      `District ${d.name}: ${trip.because}; filter it for longer, sense in the common return, or trip another way.`,
    )
  if (trip && load && load.worstAmp >= trip.lowAmp) {
    lines.push(
      `District ${d.name}: the worst load of ${amp(load.worstAmp)} may trip it (from ${amp(trip.lowAmp)}); raise the trip current or divide the district.`,
    )
  }
  const blind = inrush?.blankingUs !== undefined && Number.isFinite(inrush.blankingUs) ? inrush.blankingUs : 0
  if (blind > 0 && inrush?.tripsAtUs !== undefined && Number.isFinite(inrush.tripsAtUs)) {
    // A blind trip leaves a short alone: it may be blind only for as long as driver and wire survive one.
    const survives = Math.min(short?.driverStandsUs ?? 0, short?.wireStandsUs ?? Number.POSITIVE_INFINITY)
    const safe = short !== undefined && blind + short.tripUs < survives
    lines.push(
      safe
        ? `District ${d.name}: capacitors trip it at power-up; make the trip blind for ${formatTimeUs(blind, 3)}, or switch districts on one after another.`
        : `District ${d.name}: capacitors trip it at power-up, and a trip blind for ${formatTimeUs(blind, 3)} would leave a short longer than its driver survives; switch districts on one after another, or take larger charging resistors.`,
    )
  }
  if (inrush?.driverSafe === false) {
    lines.push(
      `District ${d.name}: the inrush of ${amp(inrush.peakAmp)} is more than the driver survives; larger charging resistors, or fewer stay-alives at once.`,
    )
  }
  if (short && Number.isFinite(short.tripUs)) {
    const limit = Math.min(
      short.driverStandsUs ?? Number.POSITIVE_INFINITY,
      short.wireStandsUs ?? Number.POSITIVE_INFINITY,
    )
    if (short.tripUs > limit) {
      lines.push(
        limit > 0
          ? `District ${d.name}: a short must be off within ${formatTimeUs(limit, 3)}, it takes ${formatTimeUs(short.tripUs, 3)}; sample faster, need fewer samples, or let hardware (a comparator on the driver's enable) switch off.`
          : `District ${d.name}: ${amp(short.amp)} into a short is more than its driver survives at all; a supply with a lower limit, or a driver with its own protection.`,
      )
    }
  }
  if (ack && !ack.proposed) {
    const now = Math.max(ack.chances.miss, ack.chances.false, ack.played.miss)
    const best = Math.max(ack.advice.chances.miss, ack.advice.chances.false)
    if (now > 1e-3 && best < now / 10) {
      const { rule, rate, average } = ack.advice
      lines.push(
        `District ${d.name}: count ${rule.samples} of ${rule.of} samples above ${amp(rule.thresholdAmp)} at ${n(rate)} /s, each the mean of ${average} conversions.`,
      )
    }
    if (best > 1e-3) {
      lines.push(
        `District ${d.name}: ${amp(ack.situation.countAmp)} per count with ${amp(ack.situation.noiseAmp)} of noise cannot tell an acknowledgement of 60 mA; a larger shunt on this output, gain, or a lower reference.`,
      )
    }
  }
  return lines
}
