/** What is entered on the bench: symptoms, the reading that is asked for, and any other. */
import { useState } from 'preact/hooks'
import type { FindReport } from '../../find/index.js'
import { formatNumber } from '../../units/index.js'
import { Drop } from '../parts/drop.js'
import { lastValid } from '../state/consequences.js'
import { addCapture, addReading, bench, chosenPlace, counted, noted, setBench } from '../state/find.js'
import type { FindPlaces, FindQuantity } from '../worker/find-calls.js'

const input = (event: Event) => (event.currentTarget as HTMLInputElement | HTMLSelectElement).value

export function SymptomForm({ places }: { places: FindPlaces }) {
  const [id, setId] = useState(places.symptoms[0]!.id)
  const [where, setWhere] = useState('')
  const symptom = places.symptoms.find((s) => s.id === id)!
  const written = where !== '' && symptom.places.includes(where) ? `${id} at ${where}` : id
  return (
    <form
      class="find-form"
      onSubmit={(event) => {
        event.preventDefault()
        if (!bench.value.symptoms.includes(written))
          setBench({ symptoms: [...bench.value.symptoms, written] })
      }}
    >
      <h3>What did you notice?</h3>
      <div class="find-fields">
        <label class="field">
          <span>Symptom</span>
          <select value={id} onChange={(event) => setId(input(event))}>
            {places.symptoms.map((s) => (
              <option value={s.id}>{s.title}</option>
            ))}
          </select>
        </label>
        {symptom.places.length > 0 && (
          <label class="field">
            <span>Where</span>
            <select value={where} onChange={(event) => setWhere(input(event))}>
              <option value="">not sure</option>
              {symptom.places.map((p) => (
                <option value={p}>{p}</option>
              ))}
            </select>
          </label>
        )}
      </div>
      <p class="tools">
        <button type="submit">Add this symptom</button>
      </p>
      <Chips
        label="Symptoms"
        list={bench.value.symptoms}
        remove={(i) => setBench({ symptoms: bench.value.symptoms.filter((_, k) => k !== i) })}
      />
    </form>
  )
}

function Chips({ label, list, remove }: { label: string; list: readonly string[]; remove(i: number): void }) {
  if (list.length === 0) return null
  return (
    <ul class="chips" aria-label={label}>
      {list.map((text, i) => (
        <li>
          {text}{' '}
          <button type="button" aria-label={`Remove ${text}`} onClick={() => remove(i)}>
            ×
          </button>
        </li>
      ))}
    </ul>
  )
}

/** A value with its unit, or one of a few words. */
export function ReadingForm({
  place,
  quantity,
  title,
}: {
  place: string
  quantity: FindQuantity
  title: string
}) {
  const [value, setValue] = useState('')
  const [instrument, setInstrument] = useState(quantity.instruments[0]!.id)
  const [why, setWhy] = useState('')
  const add = async (said: string) => {
    const unit = quantity.unit !== undefined && /^[+-]?[\d.]+$/.test(said.trim()) ? ` ${quantity.unit}` : ''
    const refused = await addReading(`${place} ${quantity.name} ${said.trim()}${unit} ${instrument}`)
    setWhy(refused ?? '')
    if (refused === undefined) setValue('')
  }
  return (
    <form
      class="reading-form"
      onSubmit={(event) => {
        event.preventDefault()
        if (value.trim() === '') setWhy('Enter what the instrument shows.')
        else void add(value)
      }}
    >
      {quantity.instruments.length > 1 && (
        <label class="field">
          <span>Instrument</span>
          <select value={instrument} onChange={(event) => setInstrument(input(event))}>
            {quantity.instruments.map((i) => (
              <option value={i.id}>{i.title}</option>
            ))}
          </select>
        </label>
      )}
      {quantity.words ? (
        <div class="tools" role="group" aria-label={title}>
          {quantity.words.map((word) => (
            <button type="button" onClick={() => void add(word)}>
              {word}
            </button>
          ))}
        </div>
      ) : (
        <div class="reading-value">
          <label class="field">
            <span>Reading{quantity.unit === undefined ? '' : `, ${quantity.unit}`}</span>
            <input
              type="text"
              inputMode="decimal"
              autocomplete="off"
              value={value}
              aria-invalid={why !== ''}
              onInput={(event) => setValue(input(event))}
            />
          </label>
          <button type="submit" class="main">
            Enter
          </button>
        </div>
      )}
      {why !== '' && (
        <p class="refused" role="alert">
          {why}
        </p>
      )}
    </form>
  )
}

/** Any reading, at a place that is chosen here or on the map. */
export function OtherReading({ places }: { places: FindPlaces }) {
  const [name, setName] = useState('')
  const place = places.places.find((p) => p.text === chosenPlace.value) ?? places.places[0]!
  const quantity = place.quantities.find((q) => q.name === name) ?? place.quantities[0]!
  const kinds = [...new Set(places.places.map((p) => p.kind))]
  return (
    <details class="find-form" open={chosenPlace.value !== ''}>
      <summary>Enter another reading</summary>
      <div class="find-fields">
        <label class="field">
          <span>Place</span>
          <select value={place.text} onChange={(event) => (chosenPlace.value = input(event))}>
            {kinds.map((kind) => (
              <optgroup label={kind}>
                {places.places
                  .filter((p) => p.kind === kind)
                  .map((p) => (
                    <option value={p.text}>{p.text}</option>
                  ))}
              </optgroup>
            ))}
          </select>
        </label>
        <label class="field">
          <span>Quantity</span>
          <select value={quantity.name} onChange={(event) => setName(input(event))}>
            {place.quantities.map((q) => (
              <option value={q.name}>{q.name}</option>
            ))}
          </select>
        </label>
      </div>
      <ReadingForm
        key={`${place.text} ${quantity.name}`}
        place={place.text}
        quantity={quantity}
        title={`${quantity.name} at ${place.text}`}
      />
    </details>
  )
}

/** Readings that were taken before: by a logic analyser, and in the design's bench notes. */
export function TakenReadings({ places }: { places: FindPlaces }) {
  const outputs = lastValid.value?.facts?.outputs ?? []
  const [chosen, setOutput] = useState<string | undefined>(undefined)
  const output = chosen ?? outputs[0]?.name
  const [why, setWhy] = useState('')
  const { notes } = bench.value
  const { count, days } = places.notes
  const isOpen = why !== '' || notes !== undefined
  return (
    <details class="find-form taken" open={isOpen || undefined}>
      <summary>Readings from a capture or from bench notes</summary>
      <p class="quiet">
        Use only readings taken while the fault was present. They count here and not in the proof.
      </p>
      {outputs.length > 1 && (
        <label class="field">
          <span>Output that the capture shows</span>
          <select value={output} onChange={(event) => setOutput(input(event))}>
            {outputs.map((o) => (
              <option value={o.name}>{o.name}</option>
            ))}
          </select>
        </label>
      )}
      <Drop
        label="Choose a capture"
        hint="or drop it here: its half-bits, preambles and late edges become readings"
        onFile={(file) => {
          setWhy('')
          void addCapture(file, output).then((says) => setWhy(says ?? ''))
        }}
      />
      <div role="alert">{why !== '' && <p class="refused">{why}</p>}</div>
      {count === 0 ? (
        <p class="quiet">The design has no bench notes.</p>
      ) : (
        <>
          <label class="check">
            <input
              type="checkbox"
              checked={notes !== undefined}
              onChange={(event) => setBench({ notes: event.currentTarget.checked ? {} : undefined })}
            />{' '}
            Use the design’s bench notes ({formatNumber(count)})
          </label>
          {notes && (
            <label class="field">
              <span>Taken since</span>
              <select
                value={notes.since ?? ''}
                onChange={(event) => setBench({ notes: { since: input(event) || undefined } })}
              >
                <option value="">any day</option>
                {days.map((day) => (
                  <option value={day}>{day}</option>
                ))}
              </select>
            </label>
          )}
        </>
      )}
    </details>
  )
}

/** Bench notes that are weighed, and those that are not. */
function NotedReadings() {
  const { readings, unused } = noted.value
  if (readings.length + unused.length === 0) return null
  return (
    <section>
      <h3>Bench notes used: {formatNumber(readings.length)}</h3>
      <ul class="readings noted">
        {readings.map((r) => (
          <li>
            {r.place} {r.quantity}{' '}
            {typeof r.value === 'string' ? r.value : `${formatNumber(r.value, 5)} ${r.unit ?? ''}`}{' '}
            {r.instrument}
          </li>
        ))}
        {unused.map((says) => (
          <li class="quiet">{says}</li>
        ))}
      </ul>
    </section>
  )
}

/** What was read so far; each can be taken out again. */
export function ReadingList({ report }: { report: FindReport }) {
  const { readings } = bench.value
  const doubtful = new Set(report.doubtful.map((i) => counted.value[i]))
  const known = new Set(counted.value)
  if (readings.length === 0) return <NotedReadings />
  return (
    <section>
      <h3>Readings taken: {formatNumber(readings.length)}</h3>
      <ol class="readings">
        {readings.map((text, i) => (
          <li class={doubtful.has(i) ? 'doubtful' : undefined}>
            <span>
              {text}
              {doubtful.has(i) && <strong> (doubtful: take it again)</strong>}
              {!known.has(i) && <strong> (not used: the design has no such place now)</strong>}
            </span>{' '}
            <button
              type="button"
              aria-label={`Remove ${text}`}
              onClick={() => setBench({ readings: readings.filter((_, k) => k !== i) })}
            >
              Remove
            </button>
          </li>
        ))}
      </ol>
      <NotedReadings />
    </section>
  )
}
