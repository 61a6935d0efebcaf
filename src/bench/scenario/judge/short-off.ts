/** A short is switched off in time, and stays off while it lasts. */
import { BENCH_FINDINGS as SAYS } from '../../findings.data.js'
import { isHang, placeWords } from '../../station/acts.js'
import type { BenchEvent } from '../../station/coupled.js'
import type { BenchDistrict } from '../../station/setup.js'
import { isShort, placeOf } from '../deed.js'
import type { ExpectationDesign } from '../design.js'
import type { Played } from '../play.js'
import type { Found } from '../result.js'
import type { DoneAct, Trace } from '../trace.js'

/** Events of the bench fall on whole instructions: finer than this nothing is told apart, us. */
const GRAIN_US = 10

/** Who switches off, by the event of it; a driver that the firmware switches is the firmware's doing. */
function byWhom(event: BenchEvent | undefined, { breaker, ownTrip }: BenchDistrict): string {
  switch (event?.kind) {
    case 'breaker':
      return !ownTrip ? 'its breaker' : breaker ? 'its breaker or its driver' : 'its driver itself'
    case 'fuse':
      return 'its fuse'
    case 'heat':
      return 'its driver, too hot'
    case 'supply':
      return 'its supply'
    default:
      return 'the firmware'
  }
}

export function shortOff(
  { within }: NonNullable<ExpectationDesign['shortOff']>,
  { trace, options, scenario }: Played,
): Found[] {
  // A clock that was drawn slow, within its tolerance, counts readings and delays slowly.
  const slower = Math.max(0, 1 / (1 + (scenario.drawn?.clock ?? 0)) - 1)
  return trace.done
    .filter((d) => isShort(d.act))
    .map((done) => {
      const where = whereWords(done)
      const { district } = done
      const beganUs = startOf(done, trace)
      if (beganUs === undefined)
        return {
          clause: 'short-trip',
          about: district ?? where,
          verdict: 'not shown',
          finding: SAYS.find('never-shorted', { where }),
        }
      if (district !== undefined && offSinceHang(trace, district, beganUs, done.endUs))
        return { about: district, verdict: 'met', finding: SAYS.find('short-off-since-hang', { where }) }
      if (district === undefined || !trace.wasOn(district, beganUs))
        return {
          clause: 'short-trip',
          about: district ?? where,
          verdict: 'not shown',
          finding: SAYS.find('short-without-power', { where }),
        }
      return judged({ ...done, timeUs: beganUs }, district, where, within)
    })

  function judged(done: DoneAct, district: string, where: string, within: number | undefined): Found {
    const { run } = trace
    const goneUs = Math.min(done.endUs, scenario.lasts)
    const amp = peakOf(run, district, done.timeUs, goneUs)
    const off = trace.switchings(district).find((s) => !s.on && s.timeUs >= done.timeUs && s.timeUs <= goneUs)
    const allowedUs = within ?? options.plannedUs(district, amp, slower)
    const lastedUs = goneUs - done.timeUs
    const tookUs = off ? off.timeUs - done.timeUs : lastedUs
    const found = {
      clause: 'short-trip' as const,
      about: district,
      value: { low: tookUs, high: tookUs, unit: 'us', max: allowedUs },
      timeUs: done.timeUs,
    }
    if (!off) {
      // What lasts less than a trip may take shows nothing.
      if (allowedUs !== undefined && lastedUs < allowedUs)
        return {
          ...found,
          verdict: 'undecided',
          finding: SAYS.find('short-brief', { where, lastedUs, allowedUs }),
        }
      return { ...found, verdict: 'broken', finding: SAYS.find('short-stays-on', { where, amp, lastedUs }) }
    }
    const by = byWhom(off.event, trace.setup.districts.find((d) => d.name === district)!)
    const late = allowedUs !== undefined && tookUs > allowedUs + GRAIN_US
    const again = onAgain(trace, district, off.timeUs, goneUs, allowedUs ?? tookUs)
    const from = trace.switchings(district).filter((s) => off && s.timeUs >= off.timeUs && s.timeUs <= goneUs)
    const attempts = again ? undefined : options.attempts?.(district, from, goneUs)
    const others = trace.setup.districts.filter(
      (d) => d.name !== district && trace.wasOn(d.name, done.timeUs),
    )
    const also = others.filter((d) => !trace.wasOn(d.name, goneUs)).map((d) => d.name)
    const finding = again
      ? SAYS.find('short-on-again', { where, amp, ...again })
      : attempts && attempts.verdict !== 'met'
        ? SAYS.find('short-attempts', { where, amp, ...attempts })
        : late
          ? SAYS.find('short-late', { where, tookUs, by, allowedUs })
          : SAYS.find('short-off', { where, tookUs, by, also })
    return {
      ...found,
      verdict:
        late || again || attempts?.verdict === 'broken'
          ? 'broken'
          : allowedUs === undefined || attempts?.verdict === 'undecided'
            ? 'undecided'
            : 'met',
      finding,
    }
  }
}

/** The program hung before the short, its district lost power after that, and has none while the short lasts. */
function offSinceHang(trace: Trace, district: string, fromUs: number, toUs: number): boolean {
  const hang = trace.done.find(
    (d) => d.act.hold && isHang(d.act.hold.why) && d.timeUs < fromUs && d.timeUs + d.act.hold.lasts > fromUs,
  )
  if (!hang || !trace.wasOn(district, hang.timeUs) || trace.wasOn(district, fromUs)) return false
  return !trace.switchings(district).some((s) => s.on && s.timeUs >= fromUs && s.timeUs <= toUs)
}

export function whereWords({ act }: DoneAct): string {
  if (act.derail) return `where ${act.derail.train} derails`
  const at = placeOf(act.short!.at)!
  return 'train' in at ? placeWords(at) : `at ${placeWords(at)}`
}

/** When something is across the rails: a derailed train shorts them only once it moves. */
export function startOf({ act, timeUs, endUs }: DoneAct, { run }: Trace): number | undefined {
  if (!act.derail) return timeUs
  const { train } = act.derail
  return run.events.find(
    (e) => e.kind === 'short' && e.about === train && e.timeUs >= timeUs && e.timeUs <= endUs,
  )?.timeUs
}

export function peakOf(run: Trace['run'], district: string, fromUs: number, toUs: number): number {
  let peak = 0
  for (const { timeUs, amp } of run.amps.get(district) ?? [])
    if (timeUs >= fromUs && timeUs <= toUs) peak = Math.max(peak, amp)
  return peak
}

/**
 * The district is switched on into the short that it was switched off for: after less time than the trip may take, so
 * that the short flows half of the time or more, or for longer than the trip may take.
 */
function onAgain(trace: Trace, district: string, offUs: number, goneUs: number, tripUs: number) {
  const switched = trace
    .switchings(district)
    .filter((s) => s.event?.kind === 'driver' && s.timeUs >= offUs && s.timeUs < goneUs)
  for (const [i, { on, timeUs }] of switched.entries()) {
    const before = switched[i - 1]
    if (!on || !before) continue
    const offForUs = timeUs - before.timeUs
    const onForUs = (switched[i + 1]?.timeUs ?? goneUs) - timeUs
    if (offForUs < tripUs || onForUs > tripUs + GRAIN_US) return { offForUs, onForUs }
  }
  return undefined
}
