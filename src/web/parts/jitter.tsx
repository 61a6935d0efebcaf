/** How long the halves of ones were while firmware ran: shortest and longest between looks, over simulated time. */
import { useRef } from 'preact/hooks'
import { formatNumber, formatRange, formatTimeUs } from '../../units/index.js'
import { lastValid } from '../state/consequences.js'
import type { Live } from '../worker/calls.js'
import './jitter.css'
import { pageSvg } from './page-svg.js'
import { TakeFigure } from './take-figure.js'

const WIDTH = 640
const HEIGHT = 130
const LEFT = 72
const BOTTOM = 104

export function Jitter({ lives, output }: { lives: readonly Live[]; output: string }) {
  const drawing = useRef<SVGSVGElement>(null)
  const looks = lives.flatMap((live) => {
    const seen = live.outputs.find((o) => o.name === output)
    return seen && Number.isFinite(seen.oneLowUs)
      ? [{ ...seen, us: live.simulatedUs, speed: live.speed }]
      : []
  })
  const last = looks.at(-1)
  if (!last || looks.length < 2) return null
  const shortest = Math.min(...looks.map((l) => l.oneLowUs))
  const longest = Math.max(...looks.map((l) => l.oneHighUs))
  const low = Math.min(shortest, last.oneMinUs) - 1
  const high = Math.max(longest, last.oneMaxUs) + 1
  const x = (us: number) => LEFT + (us / last.us) * (WIDTH - LEFT - 8)
  const y = (us: number) => BOTTOM - ((us - low) / (high - low)) * (BOTTOM - 10)
  // At least a pixel high: halves that are all alike are a line.
  const upper = looks.map((l) => `${x(l.us).toFixed(1)} ${(y(l.oneHighUs) - 0.7).toFixed(1)}`)
  const lower = looks.map((l) => `${x(l.us).toFixed(1)} ${(y(l.oneLowUs) + 0.7).toFixed(1)}`).reverse()
  const says = `${output}: halves of ones from ${formatRange(shortest, longest, 'us')}, jitter ${formatNumber(longest - shortest, 3)} us; allowed ${formatRange(last.oneMinUs, last.oneMaxUs, 'us')}`
  return (
    <figure class="jitter">
      <figcaption>
        {says}; {formatNumber(last.speed, 3)} times real time
      </figcaption>
      <svg ref={drawing} viewBox={`0 0 ${WIDTH} ${HEIGHT}`} role="img" aria-label={says}>
        <rect
          class="room"
          x={LEFT}
          width={WIDTH - LEFT - 8}
          y={y(last.oneMaxUs)}
          height={y(last.oneMinUs) - y(last.oneMaxUs)}
        />
        {[last.oneMinUs, last.oneMaxUs].map((us) => (
          <>
            <line class="limit" x1={LEFT} x2={WIDTH - 8} y1={y(us)} y2={y(us)} />
            <text x="2" y={y(us) + 4}>
              {us} us
            </text>
          </>
        ))}
        <path class="seen" d={`M${upper.join('L')}L${lower.join('L')}Z`} />
        <text x={LEFT} y={HEIGHT - 8}>
          0
        </text>
        <text x={WIDTH - 8} y={HEIGHT - 8} text-anchor="end">
          {formatTimeUs(last.us, 3)}
        </text>
      </svg>
      <TakeFigure
        name={`jitter-${output}`}
        title={`Halves of ones while the firmware ran, ${output}`}
        caption={`${says}. Source: firmware of ${lastValid.value?.facts?.name ?? 'the design'} on the simulated controller, by Halfbit.`}
        svg={(scheme) => pageSvg(drawing.current!, scheme)}
      />
    </figure>
  )
}
