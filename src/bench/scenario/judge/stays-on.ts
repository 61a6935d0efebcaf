/** Nothing switches a district off once it has power, and trains that are driven start. */
import { BENCH_FINDINGS as SAYS } from '../../findings.data.js'
import type { ExpectationDesign } from '../design.js'
import type { Played } from '../play.js'
import type { Found } from '../result.js'
import { peakOf } from './short-off.js'

export function staysOn(
  { district }: NonNullable<ExpectationDesign['staysOn']>,
  { trace, setup, scenario }: Played,
): Found[] {
  const operations = setup.outputs.filter((o) => o.mode === 'operations').map((o) => o.name)
  const watched = setup.districts.filter((d) =>
    district === undefined ? operations.includes(d.output) : d.name === district,
  )
  return watched.map(({ name }): Found => {
    const clause = 'inrush'
    const none = (why: string): Found => {
      const finding = SAYS.find('not-run', { scenario: scenario.name, why })
      return { clause, about: name, verdict: 'not shown', finding }
    }
    const here = setup.decoders.filter((d) => d.district === name)
    const isLoaded = trace.done.some((d) => d.act.load && d.district === name)
    if (here.length === 0 && !isLoaded) return none('the design names no locomotive there')
    const switchings = trace.switchings(name)
    const first = switchings.find((s) => s.on)
    if (!first) return none('the track never has power')
    const off = switchings.find((s) => !s.on && s.timeUs > first.timeUs)
    const peakAmp = peakOf(trace.run, name, 0, scenario.lasts)
    if (off)
      return {
        clause,
        about: name,
        verdict: 'broken',
        value: { low: 0, high: 1, unit: 'share' },
        finding: SAYS.find('trips-at-start', { district: name, atUs: off.timeUs, peakAmp }),
        timeUs: off.timeUs,
      }
    // Locomotives that never started draw little: that nothing switches off says nothing then.
    const driven = new Set(
      trace.done.flatMap((d) => (d.act.drive && d.act.drive.speed > 0 ? [d.act.drive.train] : [])),
    )
    const still = here.find((d) => driven.has(d.name) && trace.moves(d.name).length === 0)
    if (still) return none(`${still.name} did not start when it was commanded`)
    if (!isLoaded && !here.some((d) => driven.has(d.name))) return none('no train was driven there')
    return {
      clause,
      about: name,
      verdict: 'met',
      value: { low: 0, high: 0, unit: 'share' },
      finding: SAYS.find('start-holds', { district: name, peakAmp }),
    }
  })
}
