/** What lies at the cursors of the waveform, and between them. */
import { formatSi, formatTimeUs } from '../../units/index.js'
import { voltWords, type WaveRecord } from './record.js'
import { lowerBound } from './view.js'

interface MeasuredProps {
  a: number | undefined
  b: number | undefined
  record: WaveRecord
  volts: (us: number | undefined) => { low: number; high: number; words: string } | undefined
}

export function Measured({ a, b, record, volts }: MeasuredProps) {
  const [va, vb] = [volts(a), volts(b)]
  const rows: [string, string][] = []
  const at = (name: string, us: number | undefined, volt: typeof va) => {
    if (us !== undefined) rows.push([name, `${formatTimeUs(us, 9)}${volt ? `, ${volt.words}` : ''}`])
  }
  at('A', a, va)
  at('B', b, vb)
  if (a !== undefined && b !== undefined) {
    const between = Math.abs(b - a)
    const parts = [formatTimeUs(between, 7)]
    if (between > 0) parts.push(formatSi(1e6 / between, 'Hz', 4))
    if (!record.lastUs) {
      const { timesUs, count } = record
      const [from, to] = [Math.min(a, b), Math.max(a, b)]
      parts.push(`${lowerBound(timesUs, count, to) - lowerBound(timesUs, count, from)} edges`)
    }
    if (va && vb) parts.push(voltWords({ low: vb.low - va.high, high: vb.high - va.low }, record.voltUnit))
    rows.push(['A to B', parts.join(', ')])
  }
  return (
    <dl class="facts measured" aria-live="polite">
      {rows.map(([term, fact]) => (
        <>
          <dt>{term}</dt>
          <dd class="mono">{fact}</dd>
        </>
      ))}
    </dl>
  )
}
