/** A new bench note: entered whole, as a reading that nobody took would count as measured evidence. */
import { useState } from 'preact/hooks'
import {
  benchNotesShape,
  CAN_READ,
  type Instrument,
  namesToRead,
  type ReadingKind,
  VALUE_KEY,
} from '../../meter/index.js'
import { addPart } from '../state/design.js'
import { raw } from '../state/values.js'
import { Labelled, TextField } from './fields.js'

const KEYS = benchNotesShape.keys.readings.of.keys
const KINDS = Object.keys(KEYS.reading.choices) as ReadingKind[]

/** The design as it is written: what is not sound yet may lack anything. */
interface Written {
  power?: { supplies?: object; districts?: object }
  signal?: { outputs?: object }
  rollingStock?: object
  benchNotes?: { instruments?: Record<string, { kind?: Instrument['kind'] } | null> }
}

const names = (of: unknown) => Object.keys(typeof of === 'object' && of !== null ? of : {})

const today = () => {
  const now = new Date()
  const two = (n: number) => String(n).padStart(2, '0')
  return `${now.getFullYear()}-${two(now.getMonth() + 1)}-${two(now.getDate())}`
}

/** @param index of the reading in the list. */
export function NewReading({ index }: { index: number }) {
  const design = (raw.value ?? {}) as Written
  const instruments = design.benchNotes?.instruments ?? {}
  const able = (kind: ReadingKind) =>
    names(instruments).filter((name) =>
      CAN_READ[kind].includes(instruments[name]?.kind as Instrument['kind']),
    )
  const [picked, setKind] = useState<ReadingKind | undefined>(undefined)
  const [of, setOf] = useState('')
  const [value, setValue] = useState('')
  const [never, setNever] = useState(false)
  const [instrument, setInstrument] = useState('')
  const [by, setBy] = useState('')
  const [on, setOn] = useState(today)
  const [says, setSays] = useState<{ text: string; isBroken: boolean } | undefined>(undefined)

  const kind = picked ?? KINDS.find((k) => able(k).length > 0) ?? KINDS[0]!
  const parts = namesToRead(kind, {
    supplies: names(design.power?.supplies),
    districts: names(design.power?.districts),
    outputs: names(design.signal?.outputs),
    trains: names(design.rollingStock),
  })
  const meters = able(kind)
  const ofNow = parts.includes(of) ? of : (parts[0] ?? '')
  const meterNow = meters.includes(instrument) ? instrument : (meters[0] ?? '')
  const key = VALUE_KEY[kind]
  const add = async () => {
    const isNever = kind === 'trip' && never
    const what = isNever ? { never: true } : value === '' ? {} : { [key]: value }
    const given = { reading: kind, of: ofNow, ...what, with: meterNow, by, on }
    const lacks = missing({ value: isNever ? 'never' : value, of: ofNow, instrument: meterNow, by })
    const why = lacks ?? (await addPart(['benchNotes', 'readings', index], given))
    setSays(
      why === undefined
        ? { text: `Reading ${index + 1} added.`, isBroken: false }
        : { text: `Not added: ${why}`, isBroken: true },
    )
    if (why === undefined) setValue('')
  }
  const missing = (m: { value: string; of: string; instrument: string; by: string }) => {
    if (m.of === '') return 'the design has no part to read this at'
    if (m.instrument === '')
      return `none of the instruments can read this; add one of kind ${CAN_READ[kind].join(' or ')}`
    if (m.value === '') return `enter the ${key} that was read`
    return m.by === '' ? 'enter who read it' : undefined
  }
  return (
    <div class="add new-reading" role="group" aria-label="New reading">
      <Labelled label={KEYS.reading.title}>
        {(ids) => (
          <select {...ids} value={kind} onChange={(e) => setKind(e.currentTarget.value as ReadingKind)}>
            {KINDS.map((k) => (
              <option value={k}>{KEYS.reading.choices[k]}</option>
            ))}
          </select>
        )}
      </Labelled>
      <Choice label={KEYS.of.title} value={ofNow} of={parts} choose={setOf} />
      {kind === 'trip' && (
        <Labelled label={KEYS.never.title}>
          {(ids) => (
            <input
              {...ids}
              type="checkbox"
              checked={never}
              onChange={(e) => setNever(e.currentTarget.checked)}
            />
          )}
        </Labelled>
      )}
      {!(kind === 'trip' && never) && (
        <Entry label={key} hint={`such as ${KEYS[key].example}`} value={value} enter={setValue} />
      )}
      <Choice label={KEYS.with.title} value={meterNow} of={meters} choose={setInstrument} />
      <Entry label={KEYS.by.title} value={by} enter={setBy} />
      <Entry label={KEYS.on.title} value={on} enter={setOn} />
      <button type="button" onClick={() => void add()}>
        Add reading
      </button>
      <span role="status">{says && <span class={says.isBroken ? 'broken' : 'quiet'}>{says.text}</span>}</span>
    </div>
  )
}

/** What is wrong with a text is said when the whole is added. */
function Entry({
  enter,
  ...field
}: {
  label: string
  hint?: string
  value: string
  enter(text: string): void
}) {
  const onText = (text: string) => {
    enter(text)
    return undefined
  }
  return <TextField {...field} onText={onText} />
}

function Choice(props: { label: string; value: string; of: readonly string[]; choose(name: string): void }) {
  const { label, value, of, choose } = props
  return (
    <Labelled label={label}>
      {(ids) => (
        <select {...ids} value={value} onChange={(e) => choose(e.currentTarget.value)}>
          {of.length === 0 && <option value="">none</option>}
          {of.map((name) => (
            <option value={name}>{name}</option>
          ))}
        </select>
      )}
    </Labelled>
  )
}
