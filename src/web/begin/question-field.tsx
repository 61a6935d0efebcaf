/** One question: cards with pictures, a list, a field, or a number for each kind. */
import { useId } from 'preact/hooks'
import { capital } from '../../units/index.js'
import type { AskedQuestion } from '../worker/calls.js'
import { answerWith } from './state.js'

/** Questions whose choices are compared by their figures: each a card. */
const CARDS: readonly string[] = ['scale', 'chip', 'driver', 'shape', 'profile']

interface Props {
  question: AskedQuestion
  problem: string | undefined
}

export function QuestionField({ question: q, problem }: Props) {
  if (q.kind === 'counts') return <Counts question={q} problem={problem} />
  if (q.kind === 'choice' && CARDS.includes(q.id)) return <Cards question={q} problem={problem} />
  return <Plain question={q} problem={problem} />
}

/** A number stays on one line with its unit. */
const unbroken = (text: string) => text.replace(/(\d) (?=[A-Za-zµΩ%]{1,3}\b)/g, '$1\u00a0')

/** A choice of more letters than that takes the room of two fields. */
const LONG_CHOICE = 18

function Cards({ question: q, problem }: Props) {
  return (
    <fieldset class={`begin-cards${q.choices.some((c) => c.picture) ? ' pictured' : ''}`}>
      <legend>
        {capital(q.asks)} <span class="quiet">{q.help}</span>
      </legend>
      <div>
        {q.choices.map((c) => (
          <label class={c.value === q.value ? 'chosen' : undefined}>
            <input
              type="radio"
              name={q.id}
              value={c.value}
              checked={c.value === q.value}
              onChange={() => answerWith(q.id, c.value)}
            />
            {c.picture && <Picture lines={c.picture} />}
            <b>{c.label}</b>
            <small class="quiet">{unbroken(c.facts.join(', '))}</small>
          </label>
        ))}
      </div>
      {problem && <p class="broken">{problem}</p>}
    </fieldset>
  )
}

function Picture({ lines }: { lines: readonly (readonly (readonly [number, number])[])[] }) {
  return (
    <svg class="begin-picture" viewBox="0 0 100 50" aria-hidden="true">
      {lines.map((line) => (
        <path d={line.map(([x, y], i) => `${i === 0 ? 'M' : 'L'}${x.toFixed(1)} ${y.toFixed(1)}`).join('')} />
      ))}
    </svg>
  )
}

function Plain({ question: q, problem }: Props) {
  const id = useId()
  const described = `${id}-help${problem ? ` ${id}-problem` : ''}`
  const common = { id, 'aria-describedby': described, 'aria-invalid': problem !== undefined }
  const isLong = q.choices.some((c) => [c.label, ...c.facts].join(', ').length > LONG_CHOICE)
  return (
    <div class={`field begin-field${isLong ? ' begin-long' : ''}`}>
      <label for={id}>{capital(q.asks)}</label>
      {q.kind === 'choice' ? (
        <select {...common} value={q.value} onChange={(e) => answerWith(q.id, e.currentTarget.value)}>
          {q.choices.map((c) => (
            <option value={c.value}>{[c.label, ...c.facts].join(', ')}</option>
          ))}
        </select>
      ) : (
        <input
          {...common}
          value={q.value}
          placeholder={q.usual === '' ? 'the best' : q.usual}
          autocomplete="off"
          onInput={(e) => answerWith(q.id, e.currentTarget.value)}
        />
      )}
      {problem && (
        <p class="broken" id={`${id}-problem`}>
          ✗ {problem}
        </p>
      )}
      <p class="quiet help" id={`${id}-help`}>
        {q.help}
      </p>
    </div>
  )
}

/** `2 local, 1 shunter` as a number for each kind. */
function Counts({ question: q, problem }: Props) {
  const counts = new Map(
    q.value.split(',').flatMap((part): [string, number][] => {
      const [, count, kind] = /^\s*(\d+) ([a-z]+)\s*$/.exec(part) ?? []
      return kind === undefined ? [] : [[kind, Number(count)]]
    }),
  )
  const set = (kind: string, count: number) => {
    const next = q.choices.map(
      (c) => [c.value, c.value === kind ? count : (counts.get(c.value) ?? 0)] as const,
    )
    answerWith(
      q.id,
      next
        .filter(([, n]) => n > 0)
        .map(([k, n]) => `${n} ${k}`)
        .join(', '),
    )
  }
  return (
    <fieldset class="begin-counts">
      <legend>
        {capital(q.asks)} <span class="quiet">{q.help}</span>
      </legend>
      {q.choices.map((c) => (
        <label>
          <input
            type="number"
            min={0}
            max={q.max ?? 20}
            value={counts.get(c.value) ?? 0}
            onInput={(e) =>
              set(c.value, Math.max(0, Math.min(q.max ?? 20, Math.round(e.currentTarget.valueAsNumber || 0))))
            }
          />
          <span>
            <b>{c.label}</b> <small class="quiet">{unbroken(c.facts.join(', '))}</small>
          </span>
        </label>
      ))}
      {problem && <p class="broken">✗ {problem}</p>}
    </fieldset>
  )
}
