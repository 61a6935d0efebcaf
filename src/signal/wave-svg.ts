/** Packets as a drawing: the signal, its bits, its bytes. For explaining, so few packets at a time. */
import { decodePacket, describePacket, type PacketOptions } from '../packet/index.js'
import { formatByte, formatBytes } from '../units/index.js'
import type { SignalTiming } from './encode.js'

const WIDTH = 1200
const LEFT = 20
const ROW = 150
const HIGH_Y = 52
const LOW_Y = 92
/** Room that a bit needs for its figure; the text is large because pages show the drawing at about two thirds. */
const LETTER = 12

const STYLE = `svg{background:#fffefb;color:#1b2733;font:17px ui-monospace,"DejaVu Sans Mono",Consolas,monospace}
.w{fill:none;stroke:#a65a00;stroke-width:1.6}.r{stroke:#d4d0c5}.b{fill:#54616e}.h{fill:#14548c}.t{fill:#1b2733;font-family:system-ui,"DejaVu Sans",sans-serif;font-size:19px}
@media(prefers-color-scheme:dark){svg{background:#15232f}.w{stroke:#f2b84e}.r{stroke:#2c4052}.b{fill:#a3b2c0}.h{fill:#8cc4f5}.t{fill:#e7edf3}}`

/** One row a packet, all to the same scale of time. */
export function waveSvg(
  packets: readonly ArrayLike<number>[],
  timing: SignalTiming,
  options: PacketOptions = {},
): string {
  const rows = packets.map((bytes) => bitsOf(bytes, timing.preamble))
  const length = (bits: Bit[]) =>
    bits.reduce((sum, b) => sum + 2 * (b.one ? timing.oneHalfUs : timing.zeroHalfUs), 0)
  const longest = Math.max(1, ...rows.map(length))
  const scale = (WIDTH - 2 * LEFT) / longest
  const height = ROW * rows.length + 30
  const parts = rows.map((bits, i) => {
    const { packet, says } = decodePacket(packets[i]!, options)
    const words = packet ? describePacket(packet, options) : says
    return `<g transform="translate(0 ${i * ROW})">${row(bits, timing, scale, words, packets[i]!)}</g>`
  })
  const title = packets.map((bytes) => formatBytes(bytes)).join('; ')
  return `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${WIDTH} ${height}" role="img" aria-label="Track signal of ${title}"><title>Track signal of ${title}</title><style>${STYLE}</style>${parts.join('')}<text class="b" x="${LEFT}" y="${height - 10}">half of a one ${timing.oneHalfUs} µs, half of a zero ${timing.zeroHalfUs} µs; durations after S-9.1:2020 Table 1, frame after S-9.2:2004 A</text></svg>\n`
}

interface Bit {
  one: boolean
  /** Byte it belongs to; -1 for preamble, start and end bits. */
  byte: number
}

function bitsOf(bytes: ArrayLike<number>, preamble: number): Bit[] {
  const bits: Bit[] = Array.from({ length: preamble }, () => ({ one: true, byte: -1 }))
  for (let i = 0; i < bytes.length; i++) {
    bits.push({ one: false, byte: -1 })
    for (let mask = 0x80; mask > 0; mask >>= 1) bits.push({ one: (bytes[i]! & mask) !== 0, byte: i })
  }
  bits.push({ one: true, byte: -1 })
  return bits
}

function row(
  bits: Bit[],
  timing: SignalTiming,
  scale: number,
  words: string,
  bytes: ArrayLike<number>,
): string {
  let x = LEFT
  const path = [`M${LEFT} ${HIGH_Y}`]
  const labels: string[] = []
  const marks: string[] = []
  let byteFrom = 0
  bits.forEach((bit, i) => {
    const half = (bit.one ? timing.oneHalfUs : timing.zeroHalfUs) * scale
    const from = x
    path.push(`H${n(x + half)}V${LOW_Y}H${n(x + 2 * half)}V${HIGH_Y}`)
    x += 2 * half
    if (2 * half > LETTER)
      labels.push(
        `<text class="b" text-anchor="middle" x="${n((from + x) / 2)}" y="${LOW_Y + 20}">${bit.one ? 1 : 0}</text>`,
      )
    if (bit.byte >= 0 && bits[i - 1]?.byte !== bit.byte) byteFrom = from
    if (bit.byte >= 0 && bits[i + 1]?.byte !== bit.byte) {
      const y = LOW_Y + 27
      marks.push(
        `<path class="r" fill="none" d="M${n(byteFrom)} ${y}v6H${n(x)}v-6"/><text class="h" text-anchor="middle" x="${n((byteFrom + x) / 2)}" y="${y + 22}">${formatByte(bytes[bit.byte]!)}</text>`,
      )
    }
  })
  return `<text class="t" x="${LEFT}" y="32">${plain(words)}</text><path class="w" d="${path.join('')}"/>${labels.join('')}${marks.join('')}`
}

function n(value: number): string {
  return String(Math.round(value * 10) / 10)
}

function plain(text: string): string {
  return text.replace(/&/g, '&amp;').replace(/</g, '&lt;')
}
