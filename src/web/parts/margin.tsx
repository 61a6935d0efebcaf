/** A verdict as sign, word, bar and figure: never by colour alone. */
import { type CellVerdict, marginText } from '../../proof/index.js'

/** A margin with a true minus sign, and with two decimals always, so that columns line up. */
export function marginWords(margin: number): string {
  const words = marginText(margin)
  return (/^-?\d/u.test(words) ? Number(words).toFixed(2) : words).replace('-', '−')
}

const SIGN: Record<CellVerdict, string> = { met: '✓', broken: '✗', undecided: '?', 'not shown': '–' }

export function Sign({ verdict }: { verdict: CellVerdict }) {
  return (
    <span class={`sign ${classOf(verdict)}`} aria-hidden="true">
      {SIGN[verdict]}
    </span>
  )
}

export function classOf(verdict: CellVerdict): string {
  return verdict === 'not shown' ? 'none' : verdict
}

/** Full in the centre of the window, empty at its limit; outside, a dashed outline with a mark on the wrong side. */
export function MarginBar({ verdict, margin }: { verdict: CellVerdict; margin: number | undefined }) {
  const inside = Math.min(1, Math.max(0, margin ?? 0)) * 100
  const outside = margin !== undefined && margin < 0
  return (
    <svg class={`bar ${classOf(verdict)}`} viewBox="0 0 112 10" width="112" height="10" aria-hidden="true">
      <rect
        x="9.5"
        y=".5"
        width="101"
        height="9"
        rx="1"
        fill="none"
        stroke="currentColor"
        stroke-dasharray={outside || margin === undefined ? '3 2' : undefined}
      />
      {inside > 0 && <rect x="10" y="1" width={inside} height="8" fill="currentColor" />}
      {outside && <path d="M7 .5 L1 5 L7 9.5 Z" fill="currentColor" />}
    </svg>
  )
}

export function Verdict({ verdict, margin }: { verdict: CellVerdict; margin: number | undefined }) {
  return (
    <span class={`verdict ${classOf(verdict)}`}>
      <Sign verdict={verdict} />
      <span>
        {verdict}
        {margin !== undefined && <span class="figure"> {marginWords(margin)}</span>}
      </span>
      <MarginBar verdict={verdict} margin={margin} />
    </span>
  )
}
