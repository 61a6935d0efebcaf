/** A packet taken apart: its signal, and each byte with its bits, their pattern and what they say. */
import type { ComponentChildren } from 'preact'
import { useRef, useState } from 'preact/hooks'
import { decodePacket, errorByte, explainBytes, packetDurationUs } from '../../packet/index.js'
import { NOMINAL_TIMING, waveSvg } from '../../signal/index.js'
import { formatByte, formatBytes, formatTimeUs } from '../../units/index.js'
import { Drawing } from '../parts/figure.js'

interface AnatomyProps {
  bytes: Uint8Array
  /** Of the track it is for: the same bytes mean something else on the other. */
  mode?: 'operations' | 'service'
  /** Fields that are edited in a byte. */
  fieldsOf?: (byte: number) => ComponentChildren
  /** Called with the packet in which a bit is turned. */
  turn(bytes: Uint8Array): void
}

export function Anatomy({ bytes, mode = 'operations', fieldsOf, turn }: AnatomyProps) {
  const { says, findings } = decodePacket(bytes, { mode })
  const parts = explainBytes(bytes, { mode })
  const { preamble, oneHalfUs, zeroHalfUs } = NOMINAL_TIMING
  const hex = formatBytes(bytes)
  const lasts = packetDurationUs(bytes, preamble, oneHalfUs, zeroHalfUs)
  const turned = (byte: number, bit: number) => {
    const next = Uint8Array.from(bytes)
    next[byte]! ^= 1 << bit
    if (byte < next.length - 1) next[next.length - 1] = errorByte([...next.slice(0, -1)])
    turn(next)
  }
  return (
    <section class="anatomy" aria-label="The packet">
      <p class="meaning" role="status">
        {says}
      </p>
      {findings.map((f) => (
        <p class={f.kind === 'note' ? 'quiet' : 'broken'}>
          {f.kind === 'note' ? '' : '✗ '}
          {f.says}
        </p>
      ))}
      <div class="bytes">
        <div class="frame-part" title={`${preamble} ones before the packet`}>
          <span class="byte-name">preamble</span>
          <span class="mono">{preamble} × 1</span>
        </div>
        {parts.map((part, i) => {
          const isLast = i === parts.length - 1 && i > 0
          return (
            <div class={`byte${isLast ? ' error-byte' : ''}`} key={i}>
              <span class="byte-name">
                {isLast ? 'error byte' : `byte ${i + 1}`}{' '}
                <span class="mono strong">{formatByte(part.byte)}</span>
              </span>
              <Bits
                byte={i}
                name={isLast ? 'error byte' : `byte ${i + 1}`}
                bits={part.bits}
                pattern={part.pattern}
                turned={turned}
              />
              <p class="byte-says">{part.says}</p>
              {fieldsOf?.(i)}
            </div>
          )
        })}
        <div class="frame-part">
          <span class="byte-name">end</span>
          <span class="mono">1</span>
        </div>
      </div>
      <p class="quiet">
        {formatTimeUs(lasts, 5)} with {preamble} ones before it; a start bit 0 goes before each byte. Click a
        bit, or press Space on it, to flip it; the error byte is updated with it.
      </p>
      <Drawing
        figure={{
          name: 'packet',
          title: `Track signal of ${hex}`,
          svg: sized(waveSvg([bytes], NOMINAL_TIMING)),
        }}
        source="encoded by Halfbit after S-9.1 and S-9.2"
      />
    </section>
  )
}

interface BitsProps {
  byte: number
  name: string
  bits: string
  pattern: string
  turned(byte: number, bit: number): void
}

/** One tab stop a byte; arrows go from bit to bit. */
function Bits({ byte, name, bits, pattern, turned }: BitsProps) {
  const [focus, setFocus] = useState(0)
  const group = useRef<HTMLDivElement>(null)
  const keys = (event: KeyboardEvent) => {
    const step = { ArrowLeft: -1, ArrowRight: 1 }[event.key]
    if (step === undefined) return
    const next = Math.min(7, Math.max(0, focus + step))
    setFocus(next)
    group.current?.querySelectorAll('button')[next]?.focus()
    event.preventDefault()
  }
  return (
    <div class="bits" role="group" aria-label={`Bits of ${name}`} ref={group} onKeyDown={keys}>
      {[...bits].map((bit, i) => {
        const letter = pattern[i] ?? ''
        const isFixed = letter === '0' || letter === '1'
        return (
          <button
            type="button"
            class={isFixed ? 'fixed' : `letter letter-${runOf(pattern, i) % 3}`}
            tabIndex={i === focus ? 0 : -1}
            onFocus={() => setFocus(i)}
            onClick={() => turned(byte, 7 - i)}
          >
            <span class="mono">{bit}</span>
            <span class="unseen">
              , bit {7 - i}, {isFixed ? 'fixed for this instruction' : 'field'}{' '}
            </span>
            <span class="pattern mono">{letter}</span>
          </button>
        )
      })}
    </div>
  )
}

/** Neighbouring letters that are alike are one field, and fields side by side look different. */
function runOf(pattern: string, at: number): number {
  let run = 0
  for (let i = 1; i <= at; i++) if (pattern[i] !== pattern[i - 1]) run++
  return run
}

/** An image needs a size of its own. */
function sized(svg: string): string {
  const box = /viewBox="0 0 (\d+) (\d+)"/.exec(svg)
  return box ? svg.replace('<svg ', `<svg width="${box[1]}" height="${box[2]}" `) : svg
}
