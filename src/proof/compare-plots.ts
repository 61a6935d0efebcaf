/** Drawings that lay two sides over each other. */
import { coordinate, lineChart, svgDocument, svgLine, svgText, textWidth } from '../plot/index.js'
import type { SignalReading } from '../signal/index.js'
import { formatEnds, formatNumber, formatRange } from '../units/index.js'
import { isShownCell, type Proof, type Row } from './proof.js'

/** Width on a phone, px. */
const NARROW = 360
/** A limit so many times beyond what was found is not drawn. */
const FAR = 8

const WINDOWS = ['one-half', 'zero-half', 'one-difference', 'cutout-start', 'cutout-end'] as const

interface Bar {
  label: string
  low: number
  high: number
  verdict: string
}

/**
 * The windows of the half-bits with what each side makes of them, one drawing for all outputs; undefined when
 * neither shows any.
 * @param isNarrow for a page that is no wider than a phone.
 */
export function windowsComparison(a: Proof, b: Proof, isNarrow = false): string | undefined {
  const names = [
    ...new Set([...a.rows, ...b.rows].filter(isWindow).map((r) => `${r.clause}\n${r.about ?? ''}`)),
  ]
  const groups = names.flatMap((key) => {
    const find = (proof: Proof) => proof.rows.find((r) => `${r.clause}\n${r.about ?? ''}` === key)
    const [one, other] = [find(a), find(b)]
    const bars = [...barsOf('A', one), ...barsOf('B', other)]
    const row = one ?? other!
    return bars.length === 0 ? [] : [{ row, bars }]
  })
  if (groups.length === 0) return undefined
  const [left, width] = isNarrow ? [104, NARROW] : [150, 820]
  const right = width - (isNarrow ? 28 : 90)
  let y = 48
  const parts = [
    svgText(
      16,
      24,
      isNarrow ? 'Half-bits: A full, B outlined' : 'Windows of the half-bits: A full, B outlined',
      { class: 'head' },
    ),
  ]
  for (const { row, bars } of groups) {
    const { min = 0, max = Number.POSITIVE_INFINITY } = row.window
    const limits = [row.window.min, row.window.max]
    const high = Math.max(...bars.map((bar) => bar.high), min)
    const low = Math.min(...bars.map((bar) => bar.low), min)
    // A window that is open far to one side is drawn near what was found.
    const seen = Math.max(high - min, 0.2 * min, 1)
    const span = max - min > FAR * seen ? 1.5 * seen : max - min
    const from = Math.min(low, min - 0.12 * span)
    const to = Math.max(high, min + span * (max - min > span * 1.01 ? 1 : 1.12))
    const px = (value: number) => left + ((value - from) / (to - from)) * (right - left)
    const bottom = y + 22 + bars.length * 20
    parts.push(
      svgText(16, y + 12, `${row.title}${row.about === undefined ? '' : `, ${row.about}`}: ${row.limits}`),
    )
    parts.push(
      `<rect class="f5" fill-opacity=".14" x="${coordinate(px(min))}" y="${y + 20}" width="${coordinate(px(Math.min(max, to)) - px(min))}" height="${bottom - y - 20}"/>`,
    )
    for (const limit of limits) {
      if (limit === undefined || limit > to || limit < from) continue
      parts.push(svgLine(px(limit), y + 18, px(limit), bottom, 'rule'))
      parts.push(svgText(px(limit), bottom + 14, formatNumber(limit), { anchor: 'middle', class: 'faint' }))
    }
    bars.forEach((bar, i) => {
      const at = y + 24 + i * 20
      const x = px(bar.low)
      const wide = Math.max(3, px(bar.high) - x)
      parts.push(svgText(left - 10, at + 11, bar.label, { anchor: 'end' }))
      parts.push(
        bar.label.startsWith('A')
          ? `<rect class="f0" x="${coordinate(x)}" y="${at}" width="${coordinate(wide)}" height="13"/>`
          : `<rect class="s1" fill="none" stroke-width="2" x="${coordinate(x)}" y="${at + 1}" width="${coordinate(wide)}" height="11"/>`,
      )
      if (bar.verdict === 'met') return
      // At the left of its bar where there is no room behind it.
      const after = x + wide + 6
      const fits = after + textWidth(bar.verdict) < width
      parts.push(
        svgText(fits ? after : Math.max(left, x - 6), at + 11, bar.verdict, {
          anchor: fits || x - 6 < left ? 'start' : 'end',
        }),
      )
    })
    y = bottom + 34
  }
  return svgDocument({
    id: 'compare-windows',
    title: 'Windows of the half-bits, A and B',
    description: groups
      .map(
        ({ row, bars }) =>
          `${row.title}${row.about === undefined ? '' : `, ${row.about}`}, ${row.limits}: ${bars.map((bar) => `${bar.label} ${formatEnds(bar.low, bar.high)}, ${bar.verdict}`).join('; ')}.`,
      )
      .join(' '),
    width,
    height: y,
    body: parts.join(''),
  })
}

function isWindow(row: Row): boolean {
  return WINDOWS.some((id) => id === row.clause)
}

function barsOf(side: string, row: Row | undefined): Bar[] {
  return Object.entries(row?.cells ?? {}).flatMap(([origin, cell]) =>
    isShownCell(cell)
      ? [
          {
            label: `${side}, ${origin}`,
            low: Math.min(...cell.evidence.map((e) => e.value.low)),
            high: Math.max(...cell.evidence.map((e) => e.value.high)),
            verdict: cell.verdict,
          },
        ]
      : [],
  )
}

/** How long the half-bits of two signals were, as lines over each other. */
export function histogramComparison(
  sides: readonly { label: string; reading: SignalReading }[],
  limits: readonly { at: number; label: string }[] = [],
  isNarrow = false,
): string | undefined {
  const lines = sides.map(({ label, reading }) => ({ label, counts: shares(reading) }))
  const bins = lines.flatMap(({ counts }) => counts.map(([us]) => us))
  if (bins.length === 0) return undefined
  // Zeros may be stretched to 10 ms; what is compared is near the usual lengths.
  const to = Math.min(Math.max(...bins), 200)
  const inside = lines.map(({ label, counts }) => ({
    label,
    steps: true,
    points: counts.filter(([us]) => us <= to).map(([us, share]) => [us, share] as const),
  }))
  const says = sides.map(({ label, reading: { one, zero } }) => {
    const half = (s: typeof one) => (s.count === 0 ? 'none' : formatRange(s.minUs, s.maxUs, 'us'))
    return `${label}: halves of ones ${half(one)}, of zeros ${half(zero)}`
  })
  return lineChart({
    id: 'compare-histogram',
    title: 'Length of the half-bits, A and B',
    description: `${says.join('; ')}. Shares of all half-bits, logarithmic.`,
    x: { label: 'length', unit: 'us', min: Math.min(...bins, 50), max: Math.max(to, 110) },
    y: { label: 'share of the half-bits', unit: '%', scale: 'log' },
    series: inside,
    rules: limits.map(({ at, label }) => ({ axis: 'x', at, label })),
    ...(isNarrow ? { width: NARROW, height: NARROW } : { width: 820 }),
  })
}

/** Length → share in percent, bins without any as gaps of a tiny share, so that a line falls where nothing was. */
function shares({ histogram: { binUs, high, low } }: SignalReading): [number, number][] {
  const counts = high.map((n, i) => n + (low[i] ?? 0))
  const total = counts.reduce((sum, n) => sum + n, 0)
  const floor = 50 / Math.max(1, total)
  const list: [number, number][] = []
  // The last bin holds everything longer, which has no place on the axis.
  for (let i = 0; i < counts.length - 1; i++) {
    const near = counts[i]! > 0 || (counts[i - 1] ?? 0) > 0 || (counts[i + 1] ?? 0) > 0
    if (near) list.push([i * binUs, Math.max(floor, (100 * counts[i]!) / total)])
  }
  return list
}
