/** The Trains stage: who is sent what when, and under it where trains stop, linked by the address. */
import { useState } from 'preact/hooks'
import { formatNumber, formatRange, formatShare, formatTimeUs } from '../../units/index.js'
import { openPane } from '../edit/pane-state.js'
import { EmptyFigure } from '../parts/empty-figure.js'
import { FigureDeck } from '../parts/figure-deck.js'
import { List } from '../parts/list.js'
import { StageBody } from '../parts/stage-body.js'
import { Tables } from '../parts/table.js'
import { stageBy } from '../stages.js'
import { lastValid } from '../state/consequences.js'
import { chosenTrain, wantedSection } from '../state/selection.js'
import type { TrainLane, TrainStop, TrainsData } from '../worker/trains.js'
import { useDesk } from './ask.js'
import { TrafficStudy } from './traffic-study.js'
import { TrainsFigure } from './trains-figure.js'
import './trains.css'

export function TrainsView() {
  const { answer, fault } = useDesk('traffic', (text) => ({ text }))
  const source = `calculated by Halfbit from ${lastValid.value?.facts?.name ?? 'the design'}`
  const trains = answer?.trains
  return (
    <StageBody stage={stageBy('trains')} beside={trains && <ChosenTrain trains={trains} />}>
      {fault && <p class="notice broken">{fault}</p>}
      {!answer && !fault && <p class="quiet">Calculating …</p>}
      {trains && <TrainsFigure trains={trains} source={source} />}
      {answer && !trains && (
        <EmptyFigure title="No locomotives yet">
          <p>
            Add a fleet, locomotives with their addresses, to the design. Here you then see who is sent what
            when, how long each decoder waits, and where trains stop.
          </p>
          <button type="button" onClick={openPane}>
            Open the design
          </button>
        </EmptyFigure>
      )}
      {answer && (
        <>
          <List title="What to change" sentences={answer.advice} />
          {trains && <List title="Not calculated" sentences={answer.missing} />}
          <Tables tables={answer.tables} />
          <FigureDeck figures={answer.figures} source={source} order={['latency', 'stops']} />
          <TrafficStudy />
          <List title="Cautions" sentences={answer.cautions} />
        </>
      )}
    </StageBody>
  )
}

/** What is known of the train that is chosen, and of the places where it stops. */
function ChosenTrain({ trains }: { trains: TrainsData }) {
  const lane = trains.lanes.find((l) => l.key !== '' && l.key === chosenTrain.value)
  if (!lane)
    return (
      <p class="quiet">Choose a train in the figure to see its figures; arrow keys move between trains.</p>
    )
  const stops = trains.stops.filter((stop) => stop.trains.includes(lane.key))
  return (
    <section class="inspector" aria-label="The chosen train">
      <h3>
        {lane.name} <span class="quiet">address {lane.address}</span>
      </h3>
      <dl class="facts">
        {factsOf(lane).map(([term, fact]) => (
          <>
            <dt>{term}</dt>
            <dd>{fact}</dd>
          </>
        ))}
      </dl>
      {stops.map((stop) => (
        <StopFacts key={stop.name} stop={stop} />
      ))}
    </section>
  )
}

function factsOf(lane: TrainLane): [string, string][] {
  const facts: [string, string][] = []
  if (lane.meanUs !== undefined)
    facts.push(['sent to it', `every ${formatTimeUs(lane.meanUs, 3)} on average`])
  if (lane.worstUs !== undefined) facts.push(['longest pause', formatTimeUs(lane.worstUs, 3)])
  facts.push([
    'its time-out',
    lane.timeoutUs === undefined
      ? 'not given'
      : lane.timeoutUs === 0
        ? 'none'
        : formatTimeUs(lane.timeoutUs, 3),
  ])
  if (lane.trainMm !== undefined) facts.push(['train', `${formatNumber(lane.trainMm, 4)} mm long`])
  return facts
}

function StopFacts({ stop }: { stop: TrainStop }) {
  const [isOpen, setOpen] = useState(true)
  const mm = (value: number) => `${formatNumber(value, 4)} mm`
  const facts: [string, string][] = [
    [
      'stops inside',
      `${formatShare(stop.inside)} of ${stop.stops} (${formatRange(100 * stop.insideLow, 100 * stop.insideHigh, '%', 3)})`,
    ],
    ['front of train', `${formatRange(stop.shortestMm, stop.worstMm, 'mm', 4)}, median ${mm(stop.medianMm)}`],
    ['99 of 100 within', mm(stop.p99Mm)],
    ['must keep', `${mm(stop.marginMm)} to the end`],
    ['needs', `${mm(stop.neededMm)} of ${mm(stop.lengthMm)}`],
    ['would fit from', `at most ${formatNumber((stop.safeFullSpeed * 3600) / 1e6, 3)} km/h`],
    ...(stop.waitMoreUs === undefined
      ? []
      : ([
          [
            stop.waitMoreUs < 0 ? 'wait less' : 'wait longer',
            `${formatTimeUs(Math.abs(stop.waitMoreUs), 3)} puts the train in the middle`,
          ],
        ] as [string, string][])),
  ]
  return (
    <details open={isOpen} onToggle={(event) => setOpen(event.currentTarget.open)}>
      <summary>
        <strong>{stop.name}</strong> <span class="quiet">{stop.verdict}</span>
      </summary>
      <dl class="facts">
        {facts.map(([term, fact]) => (
          <>
            <dt>{term}</dt>
            <dd>{fact}</dd>
          </>
        ))}
      </dl>
      {stop.section !== undefined && (
        <a href="#/track" onClick={() => (wantedSection.value = stop.section)}>
          Show {stop.section} on the map
        </a>
      )}
    </details>
  )
}
