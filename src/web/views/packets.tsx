/** Packets: make one from fields, or read bytes; bits, duration, waveform and meaning. */
import { useState } from 'preact/hooks'
import {
  decodePacket,
  encodePacket,
  errorByte,
  KINDS,
  packetBits,
  packetDurationUs,
  packetFromFields,
} from '../../packet/index.js'
import { NOMINAL_TIMING, waveSvg } from '../../signal/index.js'
import { formatBytes, formatTimeUs } from '../../units/index.js'
import { Drawing } from '../parts/figure.js'
import { StageBody } from '../parts/stage-body.js'
import { stageBy } from '../stages.js'
import { beginningOf } from './packet-begin.js'

export function PacketsView() {
  const [way, setWay] = useState<'make' | 'read'>('make')
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
      {way === 'make' ? <Make /> : <Read />}
    </StageBody>
  )
}

function Make() {
  const [kind, setKind] = useState('speed')
  const [fields, setFields] = useState<Record<string, string | boolean>>({})
  const info = KINDS.find((k) => k.kind === kind)!
  const begin = beginningOf(info)
  const given: Record<string, string | boolean | undefined> = {}
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
  const shownFields = hasDirection ? info.fields.filter((f) => !isWay(f.name)) : info.fields
  let bytes: Uint8Array | undefined
  let fault: string | undefined
  try {
    bytes = encodePacket(packetFromFields(kind, given))
  } catch (error) {
    fault = error instanceof Error ? error.message : String(error)
  }
  return (
    <>
      {fault && <p class="notice broken">✗ {fault.replace(/--/g, '')}</p>}
      {bytes && <Shown bytes={bytes} mode={info.about === 'service mode' ? 'service' : 'operations'} />}
      <form class="packet" onSubmit={(event) => event.preventDefault()}>
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
        {hasDirection && (
          <div class="field">
            <label for="packet-direction">direction</label>
            <select
              id="packet-direction"
              value={given.reverse === true ? 'reverse' : 'forward'}
              onChange={(event) =>
                setFields({
                  ...fields,
                  forward: false,
                  reverse: (event.currentTarget as HTMLSelectElement).value === 'reverse',
                })
              }
            >
              <option value="forward">forward</option>
              <option value="reverse">reverse</option>
            </select>
          </div>
        )}
        {shownFields.map((f) => (
          <div class="field" key={`${kind} ${f.name}`}>
            <label for={`packet-${f.name}`}>{f.name}</label>
            {f.flag ? (
              <input
                id={`packet-${f.name}`}
                type="checkbox"
                checked={given[f.name] === true}
                aria-describedby={`packet-${f.name}-help`}
                onChange={(event) =>
                  setFields({ ...fields, [f.name]: (event.currentTarget as HTMLInputElement).checked })
                }
              />
            ) : (
              <input
                id={`packet-${f.name}`}
                value={typeof given[f.name] === 'string' ? (given[f.name] as string) : ''}
                autocomplete="off"
                aria-describedby={`packet-${f.name}-help`}
                onInput={(event) =>
                  setFields({ ...fields, [f.name]: (event.currentTarget as HTMLInputElement).value.trim() })
                }
              />
            )}
            <p class="help quiet" id={`packet-${f.name}-help`}>
              {f.says.replace(/--/g, '')}
            </p>
          </div>
        ))}
      </form>
    </>
  )
}

function Read() {
  const [text, setText] = useState('03 3F 8A B6')
  const [complete, setComplete] = useState(true)
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
    <>
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
      <div class="field">
        <label for="complete">The last byte is the error byte</label>
        <input
          id="complete"
          type="checkbox"
          checked={complete}
          onChange={(event) => setComplete((event.currentTarget as HTMLInputElement).checked)}
        />
      </div>
      {bytes.length > 0 && bytes.length <= 64 && <Shown bytes={Uint8Array.from(bytes)} />}
      {bytes.length > 64 && <p class="notice broken">✗ {bytes.length} bytes; a packet is much shorter</p>}
      {bytes.length === 0 && bad === undefined && <p class="quiet">Type or paste the bytes of a packet.</p>}
    </>
  )
}

/** @param mode of the track it is for: the same bytes mean something else on the other. */
function Shown({ bytes, mode = 'operations' }: { bytes: Uint8Array; mode?: 'operations' | 'service' }) {
  const { says, findings } = decodePacket(bytes, { mode })
  const { preamble, oneHalfUs, zeroHalfUs } = NOMINAL_TIMING
  const hex = formatBytes(bytes)
  const lasts = packetDurationUs(bytes, preamble, oneHalfUs, zeroHalfUs)
  const svg = waveSvg([bytes], NOMINAL_TIMING)
  return (
    <section class="card" aria-label="The packet">
      <p class="meaning" role="status">
        {says}
      </p>
      {findings.map((f) => (
        <p class={f.kind === 'note' ? 'quiet' : 'broken'}>
          {f.kind === 'note' ? '' : '✗ '}
          {f.says}
        </p>
      ))}
      <dl class="facts">
        <dt>Bytes</dt>
        <dd class="mono">{hex}</dd>
        <dt>Bits</dt>
        <dd class="mono bits">{packetBits(bytes, preamble)}</dd>
        <dt>Lasts</dt>
        <dd>
          {formatTimeUs(lasts, 5)} with {preamble} ones before it
        </dd>
      </dl>
      <Drawing
        figure={{ name: 'packet', title: `Track signal of ${hex}`, svg: sized(svg) }}
        source="encoded by Halfbit after S-9.1 and S-9.2"
      />
    </section>
  )
}

/** An image needs a size of its own. */
function sized(svg: string): string {
  const box = /viewBox="0 0 (\d+) (\d+)"/.exec(svg)
  return box ? svg.replace('<svg ', `<svg width="${box[1]}" height="${box[2]}" `) : svg
}
