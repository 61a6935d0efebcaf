/** A short is switched off in time, and stays off while it lasts. */
import { BENCH_FINDINGS as SAYS } from '../../findings.data.js'
import { placeWords } from '../../station/acts.js'
import type { BenchDistrict } from '../../station/setup.js'
import { isShort, placeOf } from '../deed.js'
import type { ExpectationDesign } from '../design.js'
import type { Played } from '../play.js'
import type { Found } from '../result.js'
import type { DoneAct, Trace } from '../trace.js'

/** Events of the bench fall on whole instructions: finer than this nothing is told apart, us. */
const GRAIN_US = 10

const BY: Readonly<Record<BenchDistrict['tripBy'], string>> = {
  sense: 'the firmware',
  breaker: 'the breaker',
  driver: 'the driver',
  nobody: 'nobody',
}

export function shortOff(
  { within }: NonNullable<ExpectationDesign['shortOff']>,
  { trace, options, scenario }: Played,
): Found[] {
  return trace.done
    .filter((d) => isShort(d.act))
    .map((done) => {
      const where = whereWords(done)
      const district = districtOf(done, trace)
      if (district === undefined || !wasOn(trace, district, done.timeUs))
        return {
          clause: 'short-trip',
          about: district ?? where,
          verdict: 'not shown',
          finding: SAYS.find('short-without-power', { where }),
        }
      return judged(done, district, where, within)
    })

  function judged(done: DoneAct, district: string, where: string, within: number | undefined): Found {
    const { run } = trace
    const goneUs = Math.min(done.endUs, scenario.lasts)
    const amp = peakOf(run, district, done.timeUs, goneUs)
    const off = trace.switchings(district).find((s) => !s.on && s.timeUs >= done.timeUs && s.timeUs <= goneUs)
    const allowedUs = within ?? options.plannedUs(district, amp)
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
    const { tripBy } = trace.setup.districts.find((d) => d.name === district)!
    const by = off.event.kind === 'breaker' ? 'its breaker' : BY[tripBy === 'breaker' ? 'sense' : tripBy]
    const late = allowedUs !== undefined && tookUs > allowedUs + GRAIN_US
    const again = onAgain(trace, district, off.timeUs, goneUs, allowedUs ?? tookUs)
    const others = trace.setup.districts.filter(
      (d) => d.name !== district && wasOn(trace, d.name, done.timeUs),
    )
    const also = others.filter((d) => !wasOn(trace, d.name, goneUs)).map((d) => d.name)
    const finding = again
      ? SAYS.find('short-on-again', { where, amp, ...again })
      : late
        ? SAYS.find('short-late', { where, tookUs, by, allowedUs })
        : SAYS.find('short-off', { where, tookUs, by, also })
    return {
      ...found,
      verdict: late || again ? 'broken' : allowedUs === undefined ? 'undecided' : 'met',
      finding,
    }
  }
}

export function whereWords({ act }: DoneAct): string {
  if (act.derail) return `where ${act.derail.train} derails`
  const at = placeOf(act.short!.at)!
  return 'section' in at ? `at ${placeWords(at)}` : 'train' in at ? placeWords(at) : `at ${placeWords(at)}`
}

/** The district that a short is in, by what the run said of it. */
export function districtOf(done: DoneAct, trace: Trace): string | undefined {
  const names = trace.setup.districts.map((d) => d.name)
  const event = trace.run.events.find(
    (e) => e.kind === 'short' && e.timeUs >= done.timeUs && names.includes(e.about),
  )
  return event?.about ?? done.act.short?.at.district
}

export function wasOn(trace: Trace, district: string, timeUs: number): boolean {
  return trace.switchings(district).findLast((s) => s.timeUs <= timeUs)?.on === true
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
    .filter((s) => s.event.kind === 'driver' && s.timeUs >= offUs && s.timeUs < goneUs)
  for (const [i, { on, timeUs }] of switched.entries()) {
    const before = switched[i - 1]
    if (!on || !before) continue
    const offForUs = timeUs - before.timeUs
    const onForUs = (switched[i + 1]?.timeUs ?? goneUs) - timeUs
    if (offForUs < tripUs || onForUs > tripUs + GRAIN_US) return { offForUs, onForUs }
  }
  return undefined
}
