/** Packets by address over time, and below it each stop to scale: the way of the train, and where its front came to rest. */
import { useRef, useState } from 'preact/hooks'
import { niceTicks } from '../../plot/index.js'
import { formatNumber, formatTimeUs } from '../../units/index.js'
import { pageSvg } from '../parts/page-svg.js'
import { useSize, useViewHeight } from '../parts/size.js'
import { TakeFigure } from '../parts/take-figure.js'
import { chosenTrain } from '../state/selection.js'
import type { TrainLane, TrainPacket, TrainsData } from '../worker/trains.js'
import { anchorAt, Stop } from './trains-stop.js'

const CONTENTS = ['speed', 'functions', 'turnouts', 'idle'] as const
const AXIS = 26
const HEAD = 24
const LEAST_LANE = 20
const MOST_LANE = 44
/** Where nothing else is in the figure. */
const MOST_LANE_ALONE = 64
const STOP = 132
const LEAST_STOP = 108
const OPENING_MS = 250
/** Signal path, title and head above the figure, key and caption below it, px. */
const ABOVE_AND_BELOW = 214
const LEAST_ROOM = 360

export function TrainsFigure({ trains, source }: { trains: TrainsData; source: string }) {
  const [box, { width }] = useSize<HTMLDivElement>()
  const room = Math.max(LEAST_ROOM, useViewHeight() - ABOVE_AND_BELOW)
  const drawing = useRef<SVGSVGElement>(null)
  const last = Math.max(1, ...trains.packets.map((p) => p.toMs))
  const [span, setSpan] = useState({ from: 0, to: Math.min(last, OPENING_MS) })
  const [says, setSays] = useState('')
  const [focus, setFocus] = useState(0)
  const { lanes, stops, packets } = trains
  const isNarrow = width < 600
  const left = isNarrow ? 78 : 150
  const right = isNarrow ? 8 : 116
  const stopHigh = Math.max(
    LEAST_STOP,
    Math.min(STOP + 40, (room - HEAD - AXIS - lanes.length * 30 - 30) / Math.max(1, stops.length)),
  )
  const laneHigh = Math.min(
    stops.length > 0 ? MOST_LANE : MOST_LANE_ALONE,
    Math.max(
      LEAST_LANE,
      (room - HEAD - AXIS - (stops.length > 0 ? 30 + stops.length * stopHigh : 0)) / lanes.length,
    ),
  )
  const lanesEnd = HEAD + lanes.length * laneHigh
  const stopsTop = lanesEnd + AXIS + 30
  const height = stops.length > 0 ? stopsTop + stops.length * stopHigh + 4 : lanesEnd + AXIS + 4
  const x = (ms: number) => left + ((ms - span.from) / (span.to - span.from)) * (width - left - right)
  const zoom = (by: number) =>
    setSpan(({ from, to }) => {
      const wide = Math.min(last, Math.max(20, (to - from) * by))
      const start = Math.min(last - wide, Math.max(0, (from + to) / 2 - wide / 2))
      return { from: start, to: start + wide }
    })
  const move = (share: number) =>
    setSpan(({ from, to }) => {
      const start = Math.min(Math.max(0, last - (to - from)), Math.max(0, from + share * (to - from)))
      return { from: start, to: start + to - from }
    })
  const choose = (key: string) => (chosenTrain.value = key === chosenTrain.value ? undefined : key)
  const chosen = chosenTrain.value
  const isDim = (key: string) => chosen !== undefined && lanes.some((l) => l.key === chosen) && key !== chosen
  const laneKeys = (event: KeyboardEvent, i: number) => {
    const step = { ArrowDown: 1, ArrowUp: -1 }[event.key]
    if (step !== undefined) {
      const next = Math.min(lanes.length - 1, Math.max(0, i + step))
      setFocus(next)
      drawing.current?.querySelectorAll<SVGGElement>('g.lane')[next]?.focus()
    } else if (event.key === 'Enter' || event.key === ' ') choose(lanes[i]!.key)
    else if (event.key === 'ArrowLeft') move(-0.25)
    else if (event.key === 'ArrowRight') move(0.25)
    else if (event.key === '+') zoom(0.5)
    else if (event.key === '-') zoom(2)
    else if (event.key === '0') setSpan({ from: 0, to: last })
    else if (event.key === 'Escape') chosenTrain.value = undefined
    else return
    event.preventDefault()
  }
  const pointed = (event: PointerEvent) => {
    const at = event.currentTarget as SVGSVGElement
    const rect = at.getBoundingClientRect()
    const [px, py] = [event.clientX - rect.left, event.clientY - rect.top]
    const lane = Math.floor((py - HEAD) / laneHigh)
    if (lane < 0 || lane >= lanes.length) return
    const ms = span.from + ((px - left) / (width - left - right)) * (span.to - span.from)
    const packet = packets.find((p) => p.lane === lane && ms >= p.fromMs && ms <= p.toMs)
    if (packet) setSays(packetWords(lanes[lane]!, packet))
  }
  const mostMm = Math.max(1, ...stops.map((s) => Math.max(s.lengthMm, s.worstMm))) * 1.02
  const words = `${lanes.length} lanes of packets, ${formatNumber(trains.perSecond, 3)} a second, policy ${trains.policy}. ${stops.map((s) => `${s.name}: ${s.verdict}, median ${formatNumber(s.medianMm, 4)} mm, worst ${formatNumber(s.worstMm, 4)} of ${formatNumber(s.lengthMm, 4)} mm`).join('. ')}`
  return (
    <figure class="trains-figure">
      <div class="figure-head">
        <h3>
          Packets by address{' '}
          <span class="quiet">
            policy “{trains.policy}”, {formatNumber(trains.perSecond, 3)} packets a second
          </span>
        </h3>
        <span class="acts">
          <button type="button" onClick={() => zoom(2)}>
            −<span class="unseen"> zoom out in time</span>
          </button>
          <button type="button" onClick={() => setSpan({ from: 0, to: last })}>
            Fit
          </button>
          <button type="button" onClick={() => zoom(0.5)}>
            +<span class="unseen"> zoom in to time</span>
          </button>
        </span>
      </div>
      <div class="figure-room" ref={box}>
        {width > 0 && (
          <svg
            ref={drawing}
            role="group"
            aria-label={words}
            width={width}
            height={height}
            viewBox={`0 0 ${width} ${height}`}
            onPointerMove={pointed}
          >
            {niceTicks(span.from, span.to, isNarrow ? 4 : 7).map((t, i, all) => (
              <>
                <line class="grid" x1={x(t)} x2={x(t)} y1={HEAD} y2={lanesEnd} />
                <text class="tick" x={x(t)} y={lanesEnd + 15} text-anchor={anchorAt(x(t), width)}>
                  {formatNumber(t, 6)}
                  {i === all.length - 1 ? ' ms' : ''}
                </text>
              </>
            ))}
            {!isNarrow && (
              <text class="tick" x={width - 4} y={14} text-anchor="end">
                longest pause
              </text>
            )}
            {lanes.map((lane, i) => (
              <g
                key={lane.name}
                class={`lane${lane.key !== '' && lane.key === chosen ? ' chosen' : ''}${isDim(lane.key) ? ' dim' : ''}`}
                role="button"
                tabIndex={i === focus ? 0 : -1}
                aria-pressed={lane.key !== '' && lane.key === chosen}
                aria-label={laneWords(lane)}
                onClick={() => {
                  setFocus(i)
                  if (lane.key !== '') choose(lane.key)
                }}
                onKeyDown={(event) => laneKeys(event, i)}
              >
                <rect class="lane-ground" x="1" y={HEAD + i * laneHigh} width={width - 2} height={laneHigh} />
                <line
                  class="base"
                  x1={left}
                  x2={width - right}
                  y1={HEAD + (i + 1) * laneHigh - 3}
                  y2={HEAD + (i + 1) * laneHigh - 3}
                />
                <text class="strong" x="8" y={HEAD + (i + 0.5) * laneHigh + 4}>
                  {shortened(lane.name, isNarrow ? 9 : 14)}
                </text>
                {packets
                  .filter((p) => p.lane === i && p.toMs > span.from && p.fromMs < span.to)
                  .map((p) => (
                    <Bar
                      packet={p}
                      x={x}
                      limits={[left, width - right]}
                      bottom={HEAD + (i + 1) * laneHigh - 3}
                      high={laneHigh}
                    />
                  ))}
              </g>
            ))}
            {!isNarrow && (
              // The lanes' own names say these figures with what they are.
              <g class="lane-figures" pointer-events="none">
                {lanes.map((lane, i) => (
                  <g key={lane.name} class={isDim(lane.key) ? 'dim' : undefined}>
                    <text class="tick" x={left - 8} y={HEAD + (i + 0.5) * laneHigh + 4} text-anchor="end">
                      {lane.address}
                    </text>
                    {lane.worstUs !== undefined && (
                      <text x={width - 4} y={HEAD + (i + 0.5) * laneHigh + 4} text-anchor="end">
                        {formatTimeUs(lane.worstUs, 3)}
                      </text>
                    )}
                  </g>
                ))}
              </g>
            )}
            {stops.length > 0 && (
              <text class="title" x="8" y={stopsTop - 12}>
                Where trains stop
                <tspan class="tick" dx="8">
                  {isNarrow
                    ? 'front of the train, mm'
                    : 'front of the train, mm behind the detector, to scale'}
                </tspan>
              </text>
            )}
            {stops.map((stop, i) => (
              <Stop
                key={stop.name}
                stop={stop}
                top={stopsTop + i * stopHigh}
                high={stopHigh}
                width={width}
                mostMm={mostMm}
                isChosen={stop.trains.includes(chosen ?? '')}
                isDim={chosen !== undefined && !stop.trains.includes(chosen)}
                choose={() => choose(stop.trains[0] ?? '')}
                say={setSays}
              />
            ))}
          </svg>
        )}
      </div>
      <Key trains={trains} />
      <figcaption>
        <span class="quiet" aria-live="polite">
          {says || 'Point at a packet or a stop to read it; choose a train to see where it stops.'}
        </span>
        <TakeFigure
          name="trains"
          title="Packets by address, and where trains stop"
          caption={`${words}. Source: ${source}.`}
          svg={(scheme) => pageSvg(drawing.current!, scheme)}
        />
      </figcaption>
    </figure>
  )
}

/** Only what the figure has. */
function keyOf({ packets, stops }: TrainsData): [look: string, says: string][] {
  const has = new Set(packets.map((p) => CONTENTS[p.content]))
  return [
    ...CONTENTS.filter((c) => has.has(c)).map((c): [string, string] => [`box ${c}`, c]),
    ...(packets.some((p) => p.fresh) ? [['box fresh', 'change or repeat'] as [string, string]] : []),
    ...(stops.length > 0
      ? ([
          ['stroke way', 'speed of the train'],
          ['box speed', 'where fronts came to rest'],
          ['box keep', 'to keep free'],
        ] as [string, string][])
      : []),
  ]
}

function Key({ trains }: { trains: TrainsData }) {
  return (
    <ul class="key" aria-hidden="true">
      {keyOf(trains).map(([look, says]) => (
        <li>
          <span class={look} /> {says}
        </li>
      ))}
    </ul>
  )
}

const shortened = (name: string, most: number) => (name.length > most ? `${name.slice(0, most - 1)}…` : name)

function laneWords({ name, address, worstUs }: TrainLane): string {
  const pause = worstUs === undefined ? '' : `, longest pause ${formatTimeUs(worstUs, 3)}`
  return `${name}${address === '' ? '' : `, address ${address}`}${pause}`
}

function packetWords({ name, address }: TrainLane, { content, fresh, fromMs, toMs }: TrainPacket): string {
  return `${name}${address === '' ? '' : ` (${address})`}: ${CONTENTS[content]}, ${fresh ? 'change or repeat' : 'refresh'}, ${formatNumber(fromMs, 5)} to ${formatNumber(toMs, 5)} ms`
}

interface BarProps {
  packet: TrainPacket
  x(ms: number): number
  limits: [number, number]
  bottom: number
  high: number
}

/** Inside the lane; a change is higher and has a cap. */
function Bar({ packet, x, limits, bottom, high }: BarProps) {
  const from = Math.max(limits[0], x(packet.fromMs))
  const to = Math.min(limits[1], x(packet.toMs))
  const tall = (packet.fresh ? 0.78 : 0.5) * (high - 5)
  return (
    <>
      <rect
        class={`packet ${CONTENTS[packet.content]}`}
        x={from + 0.5}
        y={bottom - tall}
        width={Math.max(1, to - from - 1)}
        height={tall}
      />
      {packet.fresh && (
        <rect class="cap" x={from} y={bottom - tall - 3} width={Math.max(2, to - from)} height="3" />
      )}
    </>
  )
}
