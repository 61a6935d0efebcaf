/** What is said of the joiner or connector that is nearest to its limit. */
import { formatNumber } from '../../units/index.js'

const n3 = (value: number) => formatNumber(value, 3)

export function jointInWords(p: {
  district: string
  kind: 'joiner' | 'connector'
  name: string
  amp: number
  ohm: number
  riseK: number | undefined
  ratedAmp?: number | undefined
  share: number
  verdict: string
}): string {
  const flows = `the ${n3(p.amp)} A that may flow`
  if (p.kind === 'joiner')
    return `District ${p.district}: the joiner at ${p.name} with ${n3(1000 * p.ohm)} mOhm warms by ${n3(p.riseK ?? 0)} K at ${flows} through it continuously, ${n3(p.share)} times the rise allowed${p.verdict === 'undecided' ? '; a measured contact resistance would decide it' : ''}`
  return p.ratedAmp === undefined
    ? `District ${p.district}: the connector of bus ${p.name} carries up to ${n3(p.amp)} A continuously, ${n3(p.share)} times its rating`
    : `District ${p.district}: the contacts of bus ${p.name}, rated ${n3(p.ratedAmp)} A, may have ${n3(1000 * p.ohm)} mOhm: ${flows} continuously make ${n3(p.share ** 2)} times the heat that clean ones make at their rating`
}
