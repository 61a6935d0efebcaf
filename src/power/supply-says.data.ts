/** What the power stage has to say of its supplies. */
import { formatSi } from '../units/index.js'

export const amp = (value: number) =>
  Number.isFinite(value) ? formatSi(value, 'A', 3) : 'an unlimited current'
/** `4 to 8 A`, or one figure where both read the same. */
export const span = (low: number, high: number) => {
  const [a, b] = [amp(low), amp(high)]
  return a === b ? a : `${a} to ${b}`
}

export const SUPPLY_SAYS = {
  'supply-trips': {
    means: 'The current that a supply must give so that even its most demanding district trips.',
    remedy: 'Use a stronger supply, or lower the trip current.',
    says: (p: { district: string; neededAmp: number; leastAmp: number; mostAmp: number; from: string }) =>
      `to trip district ${p.district} with the rest running, it must give ${amp(p.neededAmp)}; it gives ${span(p.leastAmp, p.mostAmp)} (${p.from})`,
  },
  'supply-overload': {
    means:
      'What may flow out of a supply continuously below the trip of one of its districts, against its rating.',
    remedy:
      'Use a stronger supply, lower the trip current, or let a breaker trip where nothing else surely does.',
    says: (p: {
      district: string
      leastAmp: number
      mostAmp: number
      besideAmp: number
      ratingAmp: number
    }) =>
      `${span(p.leastAmp, p.mostAmp)} may flow in district ${p.district} continuously${p.besideAmp > 0 ? `, and ${amp(p.besideAmp)} beside it` : ''}; the supply is rated ${amp(p.ratingAmp)}`,
  },
}
