/** Proposals with a button each: what is applied goes to the file as one step back. */
import { useState } from 'preact/hooks'
import { answer, desk } from '../state/consequences.js'
import { change, news, text } from '../state/design.js'
import { mapFault } from '../state/railroad.js'
import { useDesk } from './ask.js'

/** Of the power stage: each is judged before it is shown. */
export function PowerChanges() {
  const { answer: list } = useDesk('power changes', (now) => ({ text: now }), [], 300)
  if (!list || list.length === 0) return null
  return (
    <section class="changes" aria-labelledby="power-changes">
      <h3 id="power-changes">Changes that help</h3>
      <ul>
        {list.map((one) => (
          <Change key={one.says} says={one.says} next={() => Promise.resolve({ text: one.text })} />
        ))}
      </ul>
    </section>
  )
}

/** Of the railroad: each is judged when it is applied, as the railroad is solved for it. */
export function TrackChanges() {
  const { answer: list } = useDesk(
    'track advice',
    (now) => ({ text: now, fault: mapFault.value }),
    [mapFault.value],
    300,
  )
  if (!list || list.length === 0) return null
  const before = text.value
  return (
    <section class="changes" aria-labelledby="track-changes">
      <h3 id="track-changes">What to change</h3>
      <ul>
        {list.map((says, index) =>
          // With a fault on the map the proposals are those of the broken railroad.
          mapFault.value === undefined ? (
            <Change
              key={says}
              says={says}
              next={() => desk().call('track change', { text: before, index })}
            />
          ) : (
            <li key={says}>{says}</li>
          ),
        )}
      </ul>
    </section>
  )
}

interface ChangeProps {
  says: string
  next(): Promise<{ text: string } | { refused: string }>
}

function Change({ says, next }: ChangeProps) {
  const [state, setState] = useState<{ refused?: string; busy?: boolean }>({})
  const apply = async () => {
    const before = text.value
    setState({ busy: true })
    try {
      const result = await next()
      if ('refused' in result) return setState({ refused: result.refused })
      if (text.value !== before)
        return setState({ refused: 'the text has changed in the meantime: try again' })
      change(result.text, 'proposed change')
      news.value = `Applied: ${says} Undo restores the previous design.`
      setState({})
    } catch (error) {
      setState({ refused: error instanceof Error ? error.message : String(error) })
    }
  }
  return (
    <li>
      {says}{' '}
      <button
        type="button"
        disabled={state.busy || answer.value.problems.length > 0}
        title={answer.value.problems.length > 0 ? 'Fix the problems of the design first' : undefined}
        onClick={() => void apply()}
      >
        Apply this change<span class="unseen">: {says}</span>
      </button>
      <span role="status">
        {state.busy && <span class="quiet"> judging the whole design …</span>}
        {state.refused && <span class="broken"> Not applied: {state.refused}</span>}
      </span>
    </li>
  )
}
