/** A one and a zero to scale with their windows, and in three details where calculated, simulated and measured halves fall. */
import { useRef } from 'preact/hooks'
import { isShownCell, ORIGINS, type Row, valueText } from '../../proof/index.js'
import { type Origin, profileOf } from '../../standard/index.js'
import { formatNumber } from '../../units/index.js'
import { pageSvg } from '../parts/page-svg.js'
import { useSize } from '../parts/size.js'
import { TakeFigure } from '../parts/take-figure.js'
import { lastValid } from '../state/consequences.js'
import { readings } from '../state/runs.js'
import { standings } from '../state/standings.js'
import type { OutputFacts } from '../worker/calls.js'
import { type Counted, countedDifferences, countedHalves, Lane, rangeOf } from './half-bit-lane.js'
import { feedingOf, LateStrip } from './late-interrupts.js'
import './half-bit.css'

/** Units of the drawing; in a narrow room it has fewer, so that its letters stay readable. */
const WIDE = 960
const NARROW = 760
const NARROW_BELOW_PX = 860
/** On a phone the details are one below the other. */
const PHONE = 360
const PHONE_BELOW_PX = 560
const LANE = 80
const PHONE_LANE = 46
/** Above the lanes of a detail, for its name and a tick below those of the one before. */
const DETAIL_HEAD = 66
const DETAILS_TOP = 266
/** Late interrupts, which need a run. */
const LATE_HIGH = 60
const LEFT = 64
const MARGIN = 12

interface Window {
  row: Row
  /** What the station must keep. */
  min: number
  max: number
  /** What decoders must accept. */
  accept: readonly number[]
}

export function HalfBits({ output }: { output: OutputFacts }) {
  const drawing = useRef<SVGSVGElement>(null)
  const [room, { width: roomPx }] = useSize<HTMLDivElement>()
  const { rows } = standings.value.controller
  const windowOf = (clause: Row['clause']): Window | undefined => {
    const row = rows.find((r) => r.clause === clause && (r.about === undefined || r.about === output.name))
    if (!row) return undefined
    const { min = 0, max = Number.POSITIVE_INFINITY } = row.window
    return { row, min, max, accept: acceptedBy(clause, output.cutout) }
  }
  const one = windowOf('one-half')
  const zero = windowOf('zero-half')
  const difference = windowOf('one-difference')
  if (!one || !zero) return null
  const design = lastValid.value?.facts?.name ?? 'the design'
  const says = [one, zero, ...(difference ? [difference] : [])]
    .map(({ row }) => `${row.title}, ${row.limits}: ${shownText(row) || 'nothing shown'}`)
    .join('; ')
  const whole = 2 * Math.max(midOf(zero), zero.min) + 24
  const isPhone = roomPx > 0 && roomPx < PHONE_BELOW_PX
  const width = isPhone ? PHONE : roomPx < NARROW_BELOW_PX ? NARROW : WIDE
  const right = width - MARGIN
  const x = (us: number) => LEFT + 40 + (us / whole) * (right - LEFT - 40)
  const details = [one, zero, ...(difference ? [difference] : [])]
  const gap = 14
  const feeding = feedingOf(output.name)
  const wide = isPhone ? right - MARGIN : (right - MARGIN - gap * (details.length - 1)) / details.length
  const lane = isPhone ? PHONE_LANE : LANE
  const below = 3 * lane + DETAIL_HEAD
  const end = DETAILS_TOP + 3 * lane + (isPhone ? (details.length - 1) * below : 0) + 34
  return (
    <section aria-labelledby="windows" class="windows">
      <h3 id="windows" class="unseen">
        Windows of the half-bits
      </h3>
      <figure>
        <div class="wide" ref={room} tabIndex={0} role="group" aria-label="Half-bits to scale">
          <svg
            ref={drawing}
            viewBox={`0 0 ${width} ${end + (feeding ? LATE_HIGH + (isPhone ? 32 : 0) : 0)}`}
            class={isPhone ? 'half-bits on-phone' : 'half-bits'}
            role="img"
            aria-label={says}
          >
            <Bit name="One" mark="A" top={28} halfUs={midOf(one)} window={one} x={x} right={right} />
            <Bit name="Zero" mark="B" top={120} halfUs={midOf(zero)} window={zero} x={x} right={right} />
            <Axis x={x} to={whole} y={200} right={right} />
            {details.map((window, i) => (
              <Detail
                key={window.row.clause}
                mark={'ABC'[i]!}
                window={window}
                left={isPhone ? MARGIN : MARGIN + i * (wide + gap)}
                wide={wide}
                top={DETAILS_TOP + (isPhone ? i * below : 0)}
                lane={lane}
                output={output.name}
              />
            ))}
            {feeding && (
              <LateStrip feeding={feeding} left={MARGIN} right={right} top={end + 8} isPhone={isPhone} />
            )}
          </svg>
        </div>
        <figcaption>
          <span class="quiet">
            Shaded: what the station must keep; short dashes: what decoders must accept. Outlined: calculated
            range; blue: simulated; copper: measured, as bars where the halves were counted, their height a
            logarithm.
          </span>
          <TakeFigure
            name={`half-bits-${output.name}`}
            title={`Windows of the half-bits, ${output.name}`}
            caption={`Half-bits of ${output.name} to scale. ${says}. Clauses: ${one.row.source}. Source: ${design}, by Halfbit.`}
            svg={(scheme) => pageSvg(drawing.current!, scheme)}
          />
        </figcaption>
      </figure>
    </section>
  )
}

function acceptedBy(clause: Row['clause'], cutout: boolean): number[] {
  const about = lastValid.value?.proof?.profile
  if (!about) return []
  const { id: profile, edition, scale } = about
  const { receiver } = profileOf({ profile, edition, scale, cutout } as Parameters<typeof profileOf>[0])
    .clauses[clause]
  return [receiver?.min, receiver?.max].flatMap((v) => (v === undefined ? [] : [v]))
}

function shownText(row: Row): string {
  return ORIGINS.flatMap((origin) => {
    const cell = row.cells[origin]
    return isShownCell(cell) ? [`${origin} ${valueText(cell.evidence[0]!)}, ${cell.verdict}`] : []
  }).join('; ')
}

/** Where a half is drawn: as calculated, else as seen, else where the standard has it. */
function midOf({ row, min, max }: Window): number {
  for (const origin of ORIGINS) {
    const range = rangeOf(row, origin)
    if (range) return (range.low + range.high) / 2
  }
  return row.window.nominal ?? (Number.isFinite(max) ? (min + max) / 2 : min)
}

interface BitProps {
  name: string
  mark: string
  top: number
  halfUs: number
  window: Window
  x(us: number): number
  right: number
}

function Bit({ name, mark, top, halfUs, window, x, right: rim }: BitProps) {
  const [high, low] = [top + 8, top + 48]
  const end = x(2 * halfUs)
  const bands = [0, halfUs].map((start) => ({
    from: Math.min(rim, x(start + window.min)),
    to: Math.min(rim, x(start + Math.min(window.max, 1e6))),
    accept: window.accept.map((us) => x(start + us)).filter((at) => at < rim),
  }))
  return (
    <g>
      <text x={LEFT - 54} y={top + 26} class="strong">
        {name}
      </text>
      <text x={LEFT - 54} y={top + 41} class="quiet-text">
        to scale
      </text>
      {bands.map(({ from, to, accept }) => (
        <g>
          <rect class="room" x={from} width={Math.max(0, to - from)} y={top} height={56} />
          <line class="edge-of-room" x1={from} x2={from} y1={top} y2={top + 56} />
          {to < rim && <line class="edge-of-room" x1={to} x2={to} y1={top} y2={top + 56} />}
          {accept.map((at) => (
            <line class="accepted" x1={at} x2={at} y1={top} y2={top + 56} />
          ))}
        </g>
      ))}
      <path
        class="trace dotted"
        d={`M${x(0) - 24} ${low}H${x(0)}M${end} ${high}H${Math.min(rim, end + 24)}`}
      />
      <path class="trace" d={`M${x(0)} ${low}V${high}H${x(halfUs)}V${low}H${end}V${high}`} />
      <circle class="mark-ring" cx={x(halfUs)} cy={top - 10} r="9" />
      <text x={x(halfUs)} y={top - 6} text-anchor="middle" class="strong">
        {mark}
      </text>
      <text x={x(halfUs / 2)} y={top + 66} text-anchor="middle">
        {formatNumber(halfUs, 4)} us
      </text>
    </g>
  )
}

function Axis({ x, to, y, right }: { x(us: number): number; to: number; y: number; right: number }) {
  const step = to > 400 ? 100 : 50
  const ticks: number[] = []
  for (let t = 0; t <= to; t += step) ticks.push(t)
  return (
    <g>
      <line class="limit" x1={x(0)} x2={right} y1={y} y2={y} />
      {ticks.map((t, i) => (
        <g>
          <line class="limit" x1={x(t)} x2={x(t)} y1={y} y2={y + 5} />
          <text x={x(t)} y={y + 18} text-anchor="middle" class="quiet-text">
            {t}
            {i === ticks.length - 1 ? ' us' : ''}
          </text>
        </g>
      ))}
    </g>
  )
}

interface DetailProps {
  mark: string
  window: Window
  left: number
  wide: number
  top: number
  lane: number
  output: string
}

function Detail({ mark, window, left, wide, top, lane, output }: DetailProps) {
  const { row, min, max, accept } = window
  const isDifference = row.clause === 'one-difference'
  const ranges = ORIGINS.flatMap((origin) => rangeOf(row, origin) ?? [])
  const far = Math.max(
    min + (isDifference ? 2.2 * max : 8),
    ...ranges.map((r) => r.high),
    ...(Number.isFinite(max) && max < 10 * min + 20 ? [max] : []),
  )
  const near = Math.min(isDifference ? 0 : min, ...ranges.map((r) => r.low))
  const pad = isDifference ? 0.3 : Math.max(1, (far - near) * 0.25)
  const [from, to] = [isDifference ? Math.min(0, near) - 0.2 : near - pad, far + pad]
  const x = (us: number) => left + ((us - from) / (to - from)) * wide
  const within = (us: number) => us > from && us < to
  const ticks = laneTicks(from, to, x, left + wide)
  const bottom = top + 3 * lane
  return (
    <g>
      <circle class="mark-ring" cx={left + 9} cy={top - 22} r="9" />
      <text x={left + 9} y={top - 18} text-anchor="middle" class="strong">
        {mark}
      </text>
      <text x={left + 24} y={top - 18}>
        <tspan class="strong">{row.title}</tspan> <tspan class="room-text"> {row.limits}</tspan>
      </text>
      <rect class="ground" x={left} y={top} width={wide} height={3 * lane} />
      <rect
        class="room"
        x={x(Math.max(from, min))}
        width={Math.max(0, x(Math.min(to, max)) - x(Math.max(from, min)))}
        y={top}
        height={3 * lane}
      />
      {[min, max].filter(within).map((us) => (
        <line class="edge-of-room" x1={x(us)} x2={x(us)} y1={top} y2={bottom} />
      ))}
      {accept.filter(within).map((us) => (
        <line class="accepted" x1={x(us)} x2={x(us)} y1={top} y2={bottom} />
      ))}
      {ORIGINS.map((origin, i) => (
        <Lane
          key={origin}
          origin={origin}
          row={row}
          left={left}
          wide={wide}
          top={top + i * lane}
          tall={lane}
          x={x}
          within={within}
          counted={countedFor(row, output, origin)}
        />
      ))}
      <rect class="frame" x={left} y={top} width={wide} height={3 * lane} />
      {ticks.map(({ at, text }) => (
        <text x={at} y={bottom + 15} text-anchor="middle" class="quiet-text">
          {text}
        </text>
      ))}
    </g>
  )
}

/** Per letter of a tick, px. */
const LETTER = 7

/** Ticks of a lane, evenly spaced: of the steps 1, 2, 5, the first whose labels have room. The last label has the unit. */
function laneTicks(
  from: number,
  to: number,
  x: (us: number) => number,
  right: number,
): { at: number; text: string }[] {
  const wideOf = (text: string) => LETTER * text.length
  for (const step of [0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100]) {
    if ((to - from) / step > 8) continue
    const first = Math.ceil(from / step)
    const count = Math.floor(to / step) - first + 1
    const ticks = Array.from({ length: count }, (_, i) => {
      const us = (first + i) * step
      const text = `${formatNumber(us, 4)}${i === count - 1 ? ' us' : ''}`
      return { at: Math.min(x(us), right - wideOf(text) / 2), text }
    })
    const fits = ticks.every((tick, i) => {
      const before = ticks[i - 1]
      return !before || tick.at - before.at > (wideOf(tick.text) + wideOf(before.text)) / 2 + 4
    })
    if (fits) return ticks
  }
  return []
}

function countedFor(row: Row, output: string, origin: Origin): Counted[] | undefined {
  const reading = readings.value.findLast((r) => r.origin === origin && r.read.output === output)?.read
    .reading
  const range = rangeOf(row, origin)
  if (!reading || !range) return undefined
  return row.clause === 'one-difference' ? countedDifferences(reading) : countedHalves(reading, range)
}
