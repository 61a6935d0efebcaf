/** The stops behind the controller: drawings and tables from the rooms, with what to change. */
import { Clauses } from '../parts/clauses.js'
import { Drawing } from '../parts/figure.js'
import { Tables } from '../parts/table.js'
import { sound } from '../state/consequences.js'
import { mapFault } from '../state/railroad.js'
import { STOPS, type StopId } from '../stops.js'
import { useDesk } from './ask.js'
import { List } from './proof.js'
import { TrackMap } from './track-map.js'
import { TrafficStudy } from './traffic-study.js'

export const DriverView = () => <ReportView stop="driver" call="power" />
export const TrackView = () => <ReportView stop="track" call="track" />
export const TrainsView = () => <ReportView stop="trains" call="traffic" />

function TrackAdvice() {
  const { answer } = useDesk(
    'track advice',
    (text) => ({ text, fault: mapFault.value }),
    [mapFault.value],
    300,
  )
  return <List title="What to change" sentences={answer ?? []} />
}

function ReportView({ stop, call }: { stop: StopId; call: 'power' | 'track' | 'traffic' }) {
  const { answer, fault } = useDesk(
    call,
    (text) => (call === 'track' ? { text, fault: mapFault.value } : { text }),
    call === 'track' ? [mapFault.value] : [],
  )
  const source = `calculated by Halfbit from ${sound.value?.facts?.name ?? 'the design'}`
  return (
    <>
      <Clauses stop={STOPS.find((s) => s.id === stop)!} />
      {fault && <p class="notice broken">{fault}</p>}
      {!answer && !fault && <p class="quiet">Calculating …</p>}
      {answer && (
        <>
          {call === 'track' ? <TrackAdvice /> : <List title="What to change" sentences={answer.advice} />}
          <List title="To be looked at" sentences={answer.missing} />
          {'map' in answer && answer.map && <TrackMap map={answer.map} source={source} />}
          <div class="drawings">
            {answer.figures.map((figure) => (
              <Drawing key={figure.name} figure={figure} source={source} />
            ))}
          </div>
          <Tables tables={answer.tables} />
          {call === 'traffic' && <TrafficStudy />}
          <List title="Care" sentences={answer.cautions} />
        </>
      )}
    </>
  )
}
