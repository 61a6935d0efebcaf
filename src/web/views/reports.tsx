/** The stops behind the controller: drawings and tables from the rooms, with what to change. */
import { openPane } from '../edit/pane-state.js'
import { EmptyFigure } from '../parts/empty-figure.js'
import { FigureDeck } from '../parts/figure-deck.js'
import { List } from '../parts/list.js'
import { useNarrow } from '../parts/size.js'
import { StageBody } from '../parts/stage-body.js'
import { Tables } from '../parts/table.js'
import { type StageId, stageBy } from '../stages.js'
import { lastValid } from '../state/consequences.js'
import { mapFault } from '../state/railroad.js'
import { useDesk } from './ask.js'
import { PowerChanges, TrackChanges } from './changes.js'
import { TrackMap } from './track-map.js'

export const DriverView = () => <ReportView stage="driver" call="power" />
export const TrackView = () => <ReportView stage="track" call="track" />

/** Which figures come first at each stage. */
const FIRST = {
  power: ['protection', 'trip', 'voltage', 'inrush'],
  track: [],
} as const

function ReportView({ stage, call }: { stage: StageId; call: 'power' | 'track' }) {
  const isNarrow = useNarrow()
  const { answer, fault } = useDesk(
    call,
    (text) => (call === 'track' ? { text, fault: mapFault.value } : { text, isNarrow }),
    call === 'track' ? [mapFault.value] : [isNarrow],
  )
  const source = `calculated by Halfbit from ${lastValid.value?.facts?.name ?? 'the design'}`
  return (
    <StageBody
      stage={stageBy(stage)}
      top={answer && 'map' in answer && answer.map && <TrackMap map={answer.map} source={source} />}
    >
      {fault && <p class="notice broken">{fault}</p>}
      {!answer && !fault && <p class="quiet">Calculating …</p>}
      {answer && (
        <>
          {call === 'track' ? (
            <details>
              <summary>Drawings to export</summary>
              <FigureDeck figures={answer.figures} source={source} order={FIRST[call]} />
            </details>
          ) : answer.figures.length > 0 ? (
            <FigureDeck figures={answer.figures} source={source} order={FIRST[call]} />
          ) : (
            <EmptyFigure title="No power stage yet">
              <p>Add supplies, drivers and power districts to the design to see what protects them.</p>
              <button type="button" onClick={openPane}>
                Open the design
              </button>
            </EmptyFigure>
          )}
          {call === 'track' ? <TrackChanges /> : <PowerChanges />}
          {call === 'power' && <List title="What to change" sentences={answer.advice} />}
          {(call === 'track' || answer.figures.length > 0) && (
            <List title="Not calculated" sentences={answer.missing} />
          )}
          <Tables tables={answer.tables} />
          <List title="Cautions" sentences={answer.cautions} />
        </>
      )}
    </StageBody>
  )
}
