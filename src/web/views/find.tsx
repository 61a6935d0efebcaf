/** The fault finder on screen: what was noticed and read, what may be wrong, and where to put the probes next. */
import { useEffect, useState } from 'preact/hooks'
import type { FindReport } from '../../find/index.js'
import { capital, formatNumber, formatShare } from '../../units/index.js'
import { Drawing } from '../parts/figure.js'
import { StageBody } from '../parts/stage-body.js'
import { stageBy } from '../stages.js'
import { lastValid, lastValidText } from '../state/consequences.js'
import {
  bench,
  chosenPlace,
  diagnosis,
  findFault,
  followBench,
  isFinding,
  noted,
  places,
  setBench,
  startOver,
} from '../state/find.js'
import { finder } from '../worker/callers.js'
import type { Figure } from '../worker/calls.js'
import type { FindPlaces } from '../worker/find-calls.js'
import './find.css'
import { OtherReading, ReadingForm, ReadingList, SymptomForm, TakenReadings } from './find-forms.js'
import { FindMap, type MapMark } from './find-map.js'

/** Explanations that are listed. */
const MOST = 8
/** Their places are marked on the map where they are at least so likely. */
const SUSPECT = 0.02

type Next = FindReport['next'][number]

export function FindView() {
  const [picked, setPicked] = useState('')
  useEffect(followBench, [])
  const there = places.value
  const report = diagnosis.value
  const next = report?.next.find((n) => keyOf(n) === picked) ?? report?.next[0]
  const isEmpty =
    bench.value.readings.length + bench.value.symptoms.length + noted.value.readings.length === 0
  return (
    <StageBody stage={stageBy('find')}>
      <div class={`fault-finder${isFinding.value ? ' going' : ''}`}>
        {findFault.value !== '' && <p class="notice broken">✗ {findFault.value}</p>}
        {!report && findFault.value === '' && <p class="quiet">Calculating …</p>}
        {report && there && (
          <>
            <p class="conclusion" role="status">
              {isFinding.value
                ? 'Calculating …'
                : isEmpty
                  ? 'Say what you noticed, or take the first reading.'
                  : `${capital(report.finding.sentence)}.`}
            </p>
            <FindMap
              places={there}
              marks={marksOf(report, next)}
              chosen={chosenPlace.value}
              choose={(place) => (chosenPlace.value = place)}
            />
            {there.tracks.length > 0 && (
              <p class="quiet find-key">
                Circle with a dot: the next reading. Small circles: readings taken. Squares: likely faults by
                rank. Choose a track to enter a reading there.
              </p>
            )}
            <div class="find-row">
              <SymptomForm places={there} />
              {next && (
                <NextReading key={keyOf(next)} next={next} report={report} places={there} pick={setPicked} />
              )}
            </div>
            {next && <Wiring place={next.place} />}
            <Ranking report={report} isEmpty={isEmpty} />
            <OtherReading places={there} />
            <TakenReadings places={there} />
            <ReadingList report={report} />
            {!isEmpty && (
              <p class="tools">
                <button type="button" onClick={startOver}>
                  Start over
                </button>
              </p>
            )}
            <p class="quiet">
              Leave everything on the mains side to a licensed electrician; no reading is taken there. Never
              clip the ground lead of a mains-earthed oscilloscope, or of a USB instrument, to a rail or a
              driver output.
            </p>
          </>
        )}
      </div>
    </StageBody>
  )
}

const keyOf = (n: Next) => `${n.place}: ${n.quantity}`

function NextReading({
  next,
  report,
  places: there,
  pick,
}: {
  next: Next
  report: FindReport
  places: FindPlaces
  pick(key: string): void
}) {
  const quantity = there.places
    .find((p) => p.text === next.place)
    ?.quantities.find((q) => q.name === next.quantity)
  const others = report.next.filter((n) => n !== next)
  const titleOf = (id: string) => report.ranking.find((r) => r.id === id)?.words ?? id
  return (
    <section class="find-form next" aria-labelledby="next-reading">
      <h3 id="next-reading">
        Next reading: {next.place}, {next.quantity}
      </h3>
      <p>
        {next.how} {next.testOhm !== undefined && `Test resistor: ${formatNumber(next.testOhm)} Ω. `}
        <span class="quiet">
          With: {next.with}; about {next.minutes} min.
        </span>
      </p>
      {quantity && (
        <ReadingForm place={next.place} quantity={quantity} title={`${next.quantity} at ${next.place}`} />
      )}
      {next.expects.length > 0 && (
        <dl class="expects">
          {bySaying(next.expects).map(([says, ids]) => (
            <>
              <dt>{says}</dt>
              <dd>if {ids.map(titleOf).join(', or if ')}</dd>
            </>
          ))}
        </dl>
      )}
      <p class="tools">
        <button type="button" onClick={() => setBench({ skipped: [...bench.value.skipped, keyOf(next)] })}>
          I cannot take this one
        </button>
      </p>
      {others.length > 0 && (
        <details>
          <summary>Nearly as good</summary>
          <ul class="others">
            {others.map((n) => (
              <li>
                <button type="button" onClick={() => pick(keyOf(n))}>
                  {n.place}, {n.quantity}
                </button>
              </li>
            ))}
          </ul>
        </details>
      )}
    </section>
  )
}

/** Explanations that expect the same are listed together. */
function bySaying(list: Next['expects']): [says: string, ids: string[]][] {
  const by = new Map<string, string[]>()
  for (const { id, says } of list) by.set(says, [...(by.get(says) ?? []), id])
  return [...by]
}

function Wiring({ place }: { place: string }) {
  const text = lastValidText.value
  const [figure, setFigure] = useState<Figure | undefined>(undefined)
  useEffect(() => {
    let isOld = false
    finder()
      .call('wiring', { text, place })
      .then(
        (made) => !isOld && setFigure(made),
        () => !isOld && setFigure(undefined),
      )
    return () => {
      isOld = true
    }
  }, [text, place])
  if (!figure) return null
  const name = lastValid.value?.facts?.name ?? 'the design'
  return <Drawing key={figure.name} figure={figure} source={`wiring of ${name}, made by Halfbit`} />
}

function Ranking({ report, isEmpty }: { report: FindReport; isEmpty: boolean }) {
  const list = report.ranking.slice(0, MOST)
  return (
    <div class="wide" tabIndex={0} role="region" aria-label="What may be wrong">
      <table class="ranking">
        <caption>{isEmpty ? 'How often faults happen, before any reading' : 'What may be wrong'}</caption>
        <thead>
          <tr>
            <th scope="col">rank</th>
            <th scope="col">explanation</th>
            <th scope="col">probability</th>
            <th scope="col">where to look</th>
          </tr>
        </thead>
        <tbody>
          {list.map((r, i) => (
            <tr class={report.class.includes(r.id) && report.outcome !== 'open' ? 'leader' : undefined}>
              <td>{i + 1}</td>
              <th scope="row">{r.words}</th>
              <td class="share">
                {formatShare(r.probability)}
                <svg viewBox="0 0 100 4" preserveAspectRatio="none" aria-hidden="true">
                  <rect width={100 * r.probability} height="4" fill="currentColor" />
                </svg>
              </td>
              <td>{r.places.join(', ')}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  )
}

function marksOf(report: FindReport, next: Next | undefined): MapMark[] {
  const isEmpty = report.readings.length + report.symptoms.length === 0
  const suspects = isEmpty
    ? []
    : report.ranking
        .slice(0, 5)
        .flatMap((r, i): MapMark[] =>
          r.probability < SUSPECT
            ? []
            : r.places.map((place) => ({ place, kind: 'suspect', label: String(i + 1) })),
        )
  const taken = [...new Set(report.readings.map((r) => r.place))].map(
    (place): MapMark => ({ place, kind: 'taken', label: '' }),
  )
  return [
    ...(next ? [{ place: next.place, kind: 'next' as const, label: '•' }] : []),
    ...suspects,
    ...taken.filter((t) => t.place !== next?.place),
  ]
}
