/** After a short has gone trains can run again: power on the rails, and packets in it. */
import { formatTimeUs } from '../../../units/index.js'
import { BENCH_FINDINGS as SAYS } from '../../findings.data.js'
import { isShort } from '../deed.js'
import type { ExpectationDesign } from '../design.js'
import type { Played } from '../play.js'
import type { Found } from '../result.js'
import { startOf, whereWords } from './short-off.js'

/** A station that works sends a packet in this, us. */
const PACKET_WITHIN_US = 200e3

/** Acts happen between two instructions, a little later than their time, us. */
const GRAIN_US = 100

export function powerBack(
  { within }: NonNullable<ExpectationDesign['powerBack']>,
  { trace, scenario, setup }: Played,
): Found[] {
  return trace.done
    .filter((d) => isShort(d.act) && d.endUs + within <= scenario.lasts + GRAIN_US)
    .map((done): Found => {
      const { district } = done
      const beganUs = startOf(done, trace) ?? done.timeUs
      const where = whereWords(done)
      const about = district ?? where
      const clause = 'short-trip'
      if (district === undefined || !trace.wasOn(district, beganUs))
        return { clause, about, verdict: 'not shown', finding: SAYS.find('short-without-power', { where }) }
      const untilUs = Math.min(scenario.lasts, done.endUs + within)
      const value = { low: within, high: within, unit: 'us' }
      const broken = { clause, about, verdict: 'broken', value, timeUs: done.endUs } as const
      const back = trace
        .switchings(district)
        .find((s) => s.on && s.timeUs > done.timeUs && s.timeUs <= untilUs)
      const neverOff = !trace
        .switchings(district)
        .some((s) => !s.on && s.timeUs >= done.timeUs && s.timeUs <= untilUs)
      const { output } = setup.districts.find((d) => d.name === district)!
      if (!trace.wasOn(district, untilUs)) {
        const isService = setup.outputs.some((o) => o.name === output && o.mode === 'service')
        const told = trace.done.some(
          ({ timeUs, act }) => timeUs >= done.endUs && (isService ? act.service : act.power) === 'on',
        )
        if (!told && !setup.commands?.powerOn) {
          const why = `power is not back ${formatTimeUs(within)} after the short, and the design does not say how the firmware is told to switch it on`
          const finding = SAYS.find('not-run', { scenario: `return of power to ${district}`, why })
          // That it was switched off in time is shown all the same.
          return { about, verdict: 'not shown', finding }
        }
        return { ...broken, finding: SAYS.find('power-stays-off', { district, waitedUs: within }) }
      }
      const packets = trace.ears.get(output)!.packets
      const lastUs = packets.findLast((p) => p.endUs <= untilUs)?.endUs ?? Number.NEGATIVE_INFINITY
      if (untilUs - lastUs > PACKET_WITHIN_US)
        return { ...broken, finding: SAYS.find('silent-after-short', { output }) }
      const tookUs = neverOff || !back ? 0 : Math.max(0, back.timeUs - done.endUs)
      return {
        clause,
        about,
        verdict: 'met',
        value: { low: tookUs, high: tookUs, unit: 'us', max: within },
        finding: SAYS.find('power-back', { district, tookUs }),
        timeUs: done.endUs,
      }
    })
}
