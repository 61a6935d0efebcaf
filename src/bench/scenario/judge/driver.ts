/** Nothing comes that a driver cannot stand: neither its highest current nor its junction's temperature is passed. */
import { BENCH_FINDINGS as SAYS } from '../../findings.data.js'
import type { Played } from '../play.js'
import type { Found } from '../result.js'
import { peakOf } from './short-off.js'

export function driverSafe(_: boolean, { trace, setup, scenario, options }: Played): Found[] {
  return setup.districts.flatMap(({ name }): Found[] => {
    if (!trace.switchings(name).some((s) => s.on)) return []
    const points = (trace.run.amps.get(name) ?? []).map(({ timeUs, amp }) => ({ us: timeUs, amp }))
    const stood = options.driverUnder?.(name, [
      ...points,
      { us: scenario.lasts, amp: points.at(-1)?.amp ?? 0 },
    ])
    if (stood?.hottestC === undefined || stood.junctionMaxC === undefined)
      return [{ about: name, verdict: 'not shown', finding: SAYS.find('driver-unknown', { district: name }) }]
    const { hottestC, junctionMaxC, peakAmp: mostAmp } = stood
    const peakAmp = peakOf(trace.run, name, 0, scenario.lasts)
    const params = { district: name, peakAmp, hottestC, junctionMaxC }
    if (mostAmp !== undefined && peakAmp > mostAmp)
      return [
        { about: name, verdict: 'broken', finding: SAYS.find('driver-overloaded', { ...params, mostAmp }) },
      ]
    const value = { low: hottestC, high: hottestC, unit: '°C', max: junctionMaxC }
    const isHot = hottestC > junctionMaxC
    const finding = SAYS.find(isHot ? 'driver-overheats' : 'driver-withstands', params)
    return [{ about: name, verdict: isHot ? 'broken' : 'met', value, finding }]
  })
}
