/** Packets: one taken apart as the figure, its fields edited where they are in it, or bytes that are read. */
import { useState } from 'preact/hooks'
import { encodePacket, errorByte, type FieldInfo, KINDS, packetFromFields } from '../../packet/index.js'
import { StageBody } from '../parts/stage-body.js'
import { stageBy } from '../stages.js'
import { Anatomy } from './packet-anatomy.js'
import { beginningOf } from './packet-begin.js'
import { byteOfField, type Given } from './packet-fields.js'
import './packets.css'

type Way = 'make' | 'read'

export function PacketsView() {
  const [way, setWay] = useState<Way>('make')
  const [text, setText] = useState('03 3F 8A B6')
  const [complete, setComplete] = useState(true)
  // A bit that is turned in the figure makes bytes of the packet; its error byte follows.
  const turn = (bytes: Uint8Array) => {
    setText([...bytes].map((b) => b.toString(16).toUpperCase().padStart(2, '0')).join(' '))
    setComplete(true)
    setWay('read')
  }
  return (
    <StageBody stage={stageBy('packets')}>
      <div class="switch" role="group" aria-label="Task">
        <button type="button" aria-pressed={way === 'make'} onClick={() => setWay('make')}>
          Make a packet
        </button>
        <button type="button" aria-pressed={way === 'read'} onClick={() => setWay('read')}>
          Read bytes
        </button>
      </div>
      {way === 'make' ? (
        <Make turn={turn} />
      ) : (
        <Read text={text} setText={setText} complete={complete} setComplete={setComplete} turn={turn} />
      )}
    </StageBody>
  )
}

function Make({ turn }: { turn(bytes: Uint8Array): void }) {
  const [kind, setKind] = useState('speed')
  const [fields, setFields] = useState<Record<string, string | boolean>>({})
  const info = KINDS.find((k) => k.kind === kind)!
  const begin = beginningOf(info)
  const given: Given = {}
  for (const f of info.fields) {
    const value = fields[f.name]
    if (f.flag) given[f.name] = value === true
    else {
      const text = typeof value === 'string' ? value : begin[f.name]!
      given[f.name] = text === '' ? undefined : text
    }
  }
  // Two flags of the command are one choice here.
  const isWay = (name: string) => name === 'forward' || name === 'reverse'
  const hasDirection = info.fields.filter((f) => isWay(f.name)).length === 2
  const shownFields = hasDirection ? info.fields.filter((f) => f.name !== 'forward') : info.fields
  let bytes: Uint8Array | undefined
  let fault: string | undefined
  try {
    bytes = encodePacket(packetFromFields(kind, given))
  } catch (error) {
    fault = error instanceof Error ? error.message : String(error)
  }
  const set = (name: string, value: string | boolean) =>
    setFields({ ...fields, ...(hasDirection && isWay(name) ? { forward: false } : {}), [name]: value })
  const control = (f: FieldInfo) => (
    <Field key={`${kind} ${f.name}`} field={f} value={given[f.name]} set={set} />
  )
  const at = new Map<number, FieldInfo[]>()
  for (const f of shownFields) {
    const place = bytes ? byteOfField(kind, given, f, bytes) : -1
    at.set(place, [...(at.get(place) ?? []), f])
  }
  return (
    <form class="packet-form" onSubmit={(event) => event.preventDefault()}>
      <div class="field">
        <label for="packet-kind">Kind</label>
        <select
          id="packet-kind"
          value={kind}
          onChange={(event) => setKind((event.currentTarget as HTMLSelectElement).value)}
        >
          {KINDS.map((k) => (
            <option value={k.kind}>
              {k.kind}: {k.says}
            </option>
          ))}
        </select>
      </div>
      {fault && <p class="notice broken">✗ {fault.replace(/--/g, '')}</p>}
      {bytes ? (
        <Anatomy
          bytes={bytes}
          mode={info.about === 'service mode' ? 'service' : 'operations'}
          fieldsOf={(i) => (at.get(i) ?? []).map(control)}
          turn={turn}
        />
      ) : null}
      {at.has(-1) && <div class="other-fields">{at.get(-1)!.map(control)}</div>}
    </form>
  )
}

/** Both states of what the command line has as a switch. */
const CHOICES: Record<string, readonly [label: string, off: string, on: string]> = {
  long: ['form', 'short address', 'long address'],
  reverse: ['direction', 'forward', 'reverse'],
  emergency: ['stop', 'to the step', 'emergency stop'],
  write: ['access', 'verify', 'write'],
  off: ['state', 'on', 'off'],
  headlight: ['headlight', 'off', 'on'],
  immediate: ['motors', 'stop with momentum', 'cut at once'],
  lift: ['restriction', 'set', 'lifted'],
  'long-form': ['form', 'the shortest that works', 'long form'],
  reversed: ['in the consist', 'runs normally', 'runs reversed'],
  extended: ['accessories', 'basic', 'extended'],
  jump: ['the time', 'goes on', 'jumps'],
}

interface FieldProps {
  field: FieldInfo
  value: string | boolean | undefined
  set(name: string, value: string | boolean): void
}

function Field({ field: { name, says, flag }, value, set }: FieldProps) {
  const id = `packet-${name}`
  if (flag) {
    const [label, off, on] = CHOICES[name] ?? [name, 'no', 'yes']
    return (
      <div class="packet-field">
        <label for={id}>{label}</label>
        <select
          id={id}
          value={value === true ? 'on' : 'off'}
          onChange={(event) => set(name, event.currentTarget.value === 'on')}
        >
          <option value="off">{off}</option>
          <option value="on">{on}</option>
        </select>
      </div>
    )
  }
  return (
    <div class="packet-field">
      <label for={id}>{name}</label>
      <input
        id={id}
        value={typeof value === 'string' ? value : ''}
        autocomplete="off"
        aria-describedby={`${id}-help`}
        onInput={(event) => set(name, event.currentTarget.value.trim())}
      />
      <p class="help quiet" id={`${id}-help`}>
        {says.replace(/--/g, '')}
      </p>
    </div>
  )
}

interface ReadProps {
  text: string
  setText(text: string): void
  complete: boolean
  setComplete(on: boolean): void
  turn(bytes: Uint8Array): void
}

function Read({ text, setText, complete, setComplete, turn }: ReadProps) {
  const words = text
    .trim()
    .split(/[\s,;]+/)
    .filter(Boolean)
  const tokens =
    words.length === 1 && /^(0x)?[0-9a-f]{4,}$/i.test(words[0]!)
      ? (words[0]!.replace(/^0x/i, '').match(/../g) ?? [])
      : words.map((w) => w.replace(/^0x/i, ''))
  const bad = tokens.find((t) => !/^[0-9a-f]{1,2}$/i.test(t))
  const given = bad === undefined ? tokens.map((t) => Number.parseInt(t, 16)) : []
  const bytes = complete ? given : [...given, errorByte(given)]
  return (
    <div class="packet-form">
      <div class="field">
        <label for="bytes">Bytes, hexadecimal</label>
        <input
          id="bytes"
          class="mono"
          value={text}
          spellcheck={false}
          autocomplete="off"
          aria-invalid={bad !== undefined}
          onInput={(event) => setText((event.currentTarget as HTMLInputElement).value)}
        />
        {bad !== undefined && <p class="broken">✗ found “{bad}”; expected bytes such as 03 3F 8A B6</p>}
      </div>
      <label class="check">
        <input
          type="checkbox"
          checked={complete}
          onChange={(event) => setComplete((event.currentTarget as HTMLInputElement).checked)}
        />
        The last byte is the error byte
      </label>
      {bytes.length > 0 && bytes.length <= 64 && <Anatomy bytes={Uint8Array.from(bytes)} turn={turn} />}
      {bytes.length > 64 && <p class="notice broken">✗ {bytes.length} bytes; a packet is much shorter</p>}
      {bytes.length === 0 && bad === undefined && <p class="quiet">Type or paste the bytes of a packet.</p>}
    </div>
  )
}
