/** Forms made from the shapes. What is typed is written into the text now, units and all. */
import { computed } from '@preact/signals'
import { useId, useState } from 'preact/hooks'
import { designShape, type Path } from '../../design/index.js'
import { wholeWords } from '../../plot/index.js'
import type { Shape } from '../../shape/index.js'
import { DIMENSIONS } from '../../units/index.js'
import type { Stage } from '../stages.js'
import { answer } from '../state/consequences.js'
import { addPart } from '../state/design.js'
import { raw, setValue } from '../state/values.js'
import { Labelled, TextField, withCode } from './fields.js'
import { NewReading } from './new-reading.js'

/** Problems by the path they are about. */
const faults = computed(() => {
  const map = new Map<string, string>()
  for (const p of answer.value.problems) if (!map.has(p.path.join('.'))) map.set(p.path.join('.'), p.message)
  return map
})

/** Whether anything below a path is wrong. */
function wrongBelow(path: Path): boolean {
  const start = path.join('.')
  return [...faults.value.keys()].some((key) => key === start || key.startsWith(`${start}.`))
}

export function Form({ stage }: { stage: Stage }) {
  const data = raw.value as Record<string, unknown> | undefined
  if (data === undefined || data === null || typeof data !== 'object')
    return (
      <p class="quiet">The text is not readable at the moment; its problems are listed below the text.</p>
    )
  const keys = designShape.keys as Record<string, Shape>
  return (
    <form class="fields" onSubmit={(event) => event.preventDefault()}>
      {stage.parts.map((key) => (
        <Field key={key} shape={keys[key]!} path={[key]} value={data[key]} name={key} open />
      ))}
    </form>
  )
}

const OPEN_GROUPS = 'halfbit-open-groups'

/** Groups that were opened or closed, by their path; kept in this browser. */
const openGroups = new Map<string, boolean>(storedGroups())

function storedGroups(): [string, boolean][] {
  try {
    const kept: unknown = JSON.parse(localStorage.getItem(OPEN_GROUPS) ?? '[]')
    return Array.isArray(kept) ? kept : []
  } catch {
    return []
  }
}

function rememberGroup(path: Path, isOpen: boolean): void {
  openGroups.set(path.join('.'), isOpen)
  localStorage.setItem(OPEN_GROUPS, JSON.stringify([...openGroups]))
}

interface FieldProps {
  shape: Shape
  path: Path
  value: unknown
  /** Key now in the file. */
  name: string
  open?: boolean
  /** The name is the user's own. */
  entry?: boolean
}

function Field(props: FieldProps) {
  const { shape, value } = props
  switch (shape.kind) {
    case 'record':
    case 'named':
    case 'list':
      return <Group {...props} />
    case 'either': {
      const fits = shape.of.find((s) => fitsKind(s, value)) ?? shape.of[0]!
      const common = { title: fits.title ?? shape.title, help: fits.help ?? shape.help }
      return <Field {...props} shape={{ ...fits, ...common, optional: shape.optional } as Shape} />
    }
    default:
      return <Leaf {...props} />
  }
}

function fitsKind(shape: Shape, value: unknown): boolean {
  if (value === undefined || value === null) return false
  if (Array.isArray(value)) return shape.kind === 'list'
  if (typeof value === 'object') return shape.kind === 'record' || shape.kind === 'named'
  if (typeof value === 'boolean') return shape.kind === 'switch'
  return ['quantity', 'number', 'text', 'choice'].includes(shape.kind)
}

const isMap = (value: unknown): value is Record<string, unknown> =>
  typeof value === 'object' && value !== null && !Array.isArray(value)

function Group({ shape, path, value, name, open, entry }: FieldProps) {
  const [shown, setShown] = useState(openGroups.get(path.join('.')) ?? open ?? false)
  const wrong = wrongBelow(path)
  const there = value !== undefined && value !== null
  const title = shape.title ?? name
  // An entry goes by its own name, a part of the design by its title.
  const label = /^\d+$/.test(name) ? `${title} ${Number(name) + 1}` : entry ? name : title
  if (!there) {
    return (
      <div class="absent">
        <span>
          {title} <span class="quiet">not specified</span>
        </span>
        <AddButton path={path}>
          Add<span class="unseen"> {title}</span>
        </AddButton>
      </div>
    )
  }
  const own = faults.value.get(path.join('.'))
  return (
    <details
      class={`group${wrong ? ' wrong' : ''}`}
      open={shown}
      onToggle={(event) => {
        const isOpen = (event.currentTarget as HTMLDetailsElement).open
        if (isOpen === shown) return
        setShown(isOpen)
        rememberGroup(path, isOpen)
      }}
    >
      <summary>
        <span>{label}</span>
        {label !== title && <span class="quiet"> {title}</span>}
        {wrong && <span class="broken"> ✗ has a problem</span>}
        {!shown && <span class="quiet brief"> {brief(value)}</span>}
      </summary>
      {shown && (
        <div class="inside">
          {shape.help && <p class="quiet help">{withCode(shape.help)}</p>}
          {own && <p class="broken">{own}</p>}
          <Children shape={shape} path={path} value={value} />
          {path.length > 0 && (shape.optional || path.length > 1) && (
            <button type="button" class="remove" onClick={() => setValue(path, undefined)}>
              Remove {label}
            </button>
          )}
        </div>
      )}
    </details>
  )
}

function Children({ shape, path, value }: { shape: Shape; path: Path; value: unknown }) {
  if (shape.kind === 'record') {
    const data = isMap(value) ? value : {}
    return (
      <>
        {Object.entries(shape.keys).map(([key, child]) => (
          <Field key={key} shape={child} path={[...path, key]} value={data[key]} name={key} />
        ))}
      </>
    )
  }
  if (shape.kind === 'named') {
    const data = isMap(value) ? value : {}
    return (
      <>
        {Object.entries(data).map(([key, item]) => (
          <Field key={key} shape={shape.of} path={[...path, key]} value={item} name={key} entry />
        ))}
        <AddNamed shape={shape.of} path={path} taken={Object.keys(data)} />
      </>
    )
  }
  if (shape.kind === 'list') {
    const items = Array.isArray(value) ? value : [value]
    const { of } = shape
    if (!Array.isArray(value))
      return <Field shape={of} path={path} value={value} name={String(path.at(-1))} />
    if (items.every((item) => typeof item !== 'object') && of.kind === 'text')
      return <PlainList path={path} items={items} label={shape.title ?? String(path.at(-1))} />
    return (
      <>
        {items.map((item, i) => (
          <Field key={i} shape={of} path={[...path, i]} value={item} name={String(i)} />
        ))}
        {path.join('.') === 'benchNotes.readings' ? (
          <NewReading index={items.length} />
        ) : (
          items.length < (shape.maxItems ?? Number.POSITIVE_INFINITY) && (
            <AddButton path={[...path, items.length]}>Add {of.title ?? 'one more'}</AddButton>
          )
        )}
      </>
    )
  }
  return null
}

/** Short texts in one field, commas between them. */
function PlainList({ path, items, label }: { path: Path; items: unknown[]; label: string }) {
  return (
    <TextField
      label={label}
      value={items.join(', ')}
      fault={faults.value.get(path.join('.'))}
      onText={(text) => {
        const list = text
          .split(',')
          .map((t) => t.trim())
          .filter(Boolean)
        if (list.join() === items.join()) return undefined
        return setValue(path, list.length > 0 ? list : undefined)
      }}
    />
  )
}

/** Adds a part that is complete at once, or says why it cannot be. */
function AddButton({ path, children }: { path: Path; children: preact.ComponentChildren }) {
  const [refused, setRefused] = useState<string | undefined>(undefined)
  return (
    <>
      <button type="button" onClick={async () => setRefused(await addPart(path))}>
        {children}
      </button>
      <span role="status">{refused && <span class="broken">Not added: {refused}</span>}</span>
    </>
  )
}

function AddNamed({ shape, path, taken }: { shape: Shape; path: Path; taken: string[] }) {
  const [name, setName] = useState('')
  const id = useId()
  const [refused, setRefused] = useState<string | undefined>(undefined)
  const inUse = taken.includes(name) ? 'that name is already in use' : undefined
  const fault = inUse ?? refused
  const add = async () => {
    if (name === '' || inUse) return
    const why = await addPart([...path, name])
    setRefused(why === undefined ? undefined : `Not added: ${why}`)
    if (why === undefined) setName('')
  }
  return (
    <div class="add">
      <label for={id}>Name of the new {shape.title ?? 'entry'}</label>
      <input
        id={id}
        value={name}
        onInput={(event) => {
          setName((event.currentTarget as HTMLInputElement).value.trim())
          setRefused(undefined)
        }}
        onKeyDown={(event) => {
          if (event.key === 'Enter') void add()
        }}
      />
      <button type="button" disabled={name === '' || inUse !== undefined} onClick={() => void add()}>
        Add
      </button>
      <span role="status">{fault && <span class="broken">{fault}</span>}</span>
    </div>
  )
}

function Leaf({ shape, path, value, name }: FieldProps) {
  const fault = faults.value.get(path.join('.'))
  const label = shape.title ?? name
  if (shape.kind === 'choice') {
    const given = value === undefined || value === null ? '' : String(value)
    const known = Object.keys(shape.choices).find((c) => c.toLowerCase() === given.toLowerCase())
    return (
      <Labelled label={label} help={shape.help} fault={fault}>
        {(ids) => (
          <select
            {...ids}
            value={known ?? given}
            onChange={(event) => {
              const picked = (event.currentTarget as HTMLSelectElement).value
              setValue(path, picked === '' ? undefined : picked)
            }}
          >
            <option value="">
              {shape.default === undefined ? 'not given' : `${shape.choices[shape.default]} (usual)`}
            </option>
            {known === undefined && given !== '' && <option value={given}>{given}</option>}
            {Object.entries(shape.choices).map(([key, says]) => (
              <option value={key}>{says}</option>
            ))}
          </select>
        )}
      </Labelled>
    )
  }
  if (shape.kind === 'switch') {
    return (
      <Labelled label={label} help={shape.help} fault={fault}>
        {(ids) => (
          <input
            {...ids}
            type="checkbox"
            checked={value === undefined ? (shape.default ?? false) : value === true}
            onChange={(event) => setValue(path, (event.currentTarget as HTMLInputElement).checked)}
          />
        )}
      </Labelled>
    )
  }
  const usual = 'default' in shape ? shape.default : undefined
  const example =
    shape.example ?? (shape.kind === 'quantity' ? DIMENSIONS[shape.dimension].example : undefined)
  const isLong = shape.kind === 'text' && (shape.maxLength ?? 0) > 1000
  // A whole sentence is no part of another one.
  const such = isLong ? '' : 'such as '
  const hint =
    usual !== undefined ? `${usual} (usual)` : example === undefined ? '' : `${such}${String(example)}`
  return (
    <TextField
      label={label}
      help={shape.help}
      hint={hint}
      fault={fault}
      long={isLong}
      value={value === undefined || value === null ? '' : String(value)}
      onText={(text) => {
        if (text === '') return setValue(path, undefined)
        const number = shape.kind === 'number' && /^-?\d+(\.\d+)?$/.test(text) ? Number(text) : text
        return setValue(path, number)
      }}
    />
  )
}

/** A few words about what is folded away. */
function brief(value: unknown): string {
  if (Array.isArray(value))
    return value.every((v) => typeof v !== 'object') ? shortened(value.join(', ')) : `${value.length}`
  if (!isMap(value)) return shortened(String(value ?? ''))
  const flat = Object.values(value).filter((v) => typeof v === 'string' || typeof v === 'number')
  return flat.length > 0
    ? shortened(flat.slice(0, 3).join(', '))
    : shortened(Object.keys(value).slice(0, 4).join(', '))
}

const shortened = (words: string) => wholeWords(words, 40)
