/** A place where trains stop, to scale. */
import { niceTicks } from '../../plot/index.js'
import { formatNumber } from '../../units/index.js'
import type { TrainStop } from '../worker/trains.js'

/** A label near the right rim ends there. */
export const anchorAt = (at: number, width: number) => (at > width - 40 ? 'end' : 'middle')

interface StopProps {
  stop: TrainStop
  top: number
  high: number
  width: number
  mostMm: number
  isChosen: boolean
  isDim: boolean
  choose(): void
  say(words: string): void
}

const BINS_PX = 3

/** The rails to scale, the train with its front at the median, and above it how often fronts came to rest where. */
export function Stop({ stop, top, high, width, mostMm, isChosen, isDim, choose, say }: StopProps) {
  const from = 10
  const px = (mm: number) => from + (mm / mostMm) * (width - 2 * from)
  const rail = top + high - 24
  const chart = top + 34
  const base = rail - 22
  const bins = new Map<number, number>()
  for (const mm of stop.frontsMm) {
    const bin = Math.floor(px(mm) / BINS_PX)
    bins.set(bin, (bins.get(bin) ?? 0) + 1)
  }
  const most = Math.max(1, ...bins.values())
  const way = [`M${px(0)} ${chart}`, `L${px(stop.brakesMm)} ${chart}`]
  for (let k = 1; k <= 12; k++) {
    const share = k / 12
    const mm = stop.brakesMm + share * (stop.medianMm - stop.brakesMm)
    way.push(`L${px(mm).toFixed(1)} ${(base - (base - chart) * Math.sqrt(1 - share)).toFixed(1)}`)
  }
  const isGood = stop.verdict === 'long enough'
  const label = `median ${formatNumber(stop.medianMm, 4)}, worst ${formatNumber(stop.worstMm, 4)}`
  const needs = `${isGood ? '✓' : stop.verdict === 'undecided' ? '?' : '✗'} needs ${formatNumber(stop.neededMm, 4)} of ${formatNumber(stop.lengthMm, 4)}`
  // Beside the heap where there is room: behind it, else before it.
  const wide = 7 * Math.max(label.length, needs.length)
  const isBehind = px(stop.worstMm) + 12 + wide < width - from
  const beforeHeap = px(stop.shortestMm) - 12
  // The line of the speed falls where the train brakes; a label ahead of that is not struck by it.
  const beforeBrakes = px(stop.brakesMm) - 6
  const isClear = beforeBrakes < beforeHeap && beforeBrakes - wide > from
  const at = isBehind ? px(stop.worstMm) + 12 : isClear ? beforeBrakes : beforeHeap
  const anchor = isBehind ? 'start' : 'end'
  const train = stop.trainMm ?? 0
  const ticks = niceTicks(0, mostMm, width < 600 ? 4 : 8).filter((t) => t <= stop.lengthMm)
  return (
    <g class={`stop${isChosen ? ' chosen' : ''}${isDim ? ' dim' : ''}`} onClick={choose}>
      <rect class="lane-ground" x="1" y={top} width={width - 2} height={high - 2} />
      <text x="8" y={top + 14}>
        <tspan class="strong">{stop.name}</tspan>
        <tspan class="tick" dx="6">
          {formatNumber(stop.lengthMm, 4)} mm, {stop.trains.join(', ')} from{' '}
          {formatNumber((stop.fullSpeed * 3600) / 1e6, 3)} km/h
        </tspan>
      </text>
      <line class="base" x1={px(0)} x2={px(stop.lengthMm)} y1={base} y2={base} />
      {[...bins].map(([bin, count]) => (
        <rect
          class="front"
          x={bin * BINS_PX}
          y={base - (count / most) * (base - chart)}
          width={BINS_PX - 0.6}
          height={(count / most) * (base - chart)}
          onPointerEnter={() =>
            say(
              `${stop.name}: ${count} of ${stop.frontsMm.length} fronts at about ${formatNumber(((bin * BINS_PX - from) / (width - 2 * from)) * mostMm, 4)} mm`,
            )
          }
        />
      ))}
      <path class="way" d={way.join('')} />
      <text class="way-text" x={px(0) + 4} y={chart - 4}>
        {formatNumber(stop.speed, 3)} mm/s
      </text>
      <text class="strong grounded" x={at} y={chart + 16} text-anchor={anchor}>
        {label}
      </text>
      <text
        class={isGood ? 'met-text' : stop.verdict === 'undecided' ? 'undecided-text' : 'broken-text'}
        x={at}
        y={chart + 31}
        text-anchor={anchor}
      >
        {needs}
      </text>
      <rect
        class="keep"
        x={px(stop.lengthMm - stop.marginMm)}
        y={base}
        width={Math.max(1, px(stop.lengthMm) - px(stop.lengthMm - stop.marginMm))}
        height={rail - base}
      />
      {train > 0 && (
        <>
          <path
            class="train"
            d={`M${Math.max(px(0) - 6, px(stop.medianMm - train))} ${rail - 2}V${rail - 18}H${px(stop.medianMm) - 5}q5 0 5 6V${rail - 2}z`}
          />
          <text
            class="strong"
            x={(Math.max(px(0), px(stop.medianMm - train)) + px(stop.medianMm)) / 2}
            y={rail - 6}
            text-anchor="middle"
          >
            {px(stop.medianMm) - Math.max(px(0), px(stop.medianMm - train)) > 40 ? stop.trains[0] : ''}
          </text>
        </>
      )}
      <path
        class="rails"
        d={`M${px(0)} ${rail}H${px(stop.lengthMm)}M${px(0)} ${rail + 5}H${px(stop.lengthMm)}`}
      />
      <line class="buffer" x1={px(stop.lengthMm)} x2={px(stop.lengthMm)} y1={rail - 16} y2={rail + 6} />
      {ticks.map((t) => (
        <text class="tick" x={px(t)} y={rail + 17} text-anchor={t === 0 ? 'start' : anchorAt(px(t), width)}>
          {t === 0 ? 'detector' : formatNumber(t, 5)}
        </text>
      ))}
    </g>
  )
}
