/**
 * The bits of one packet laid over its edges, each with what it is: for a screen that says so where one points. The
 * reader finds the packet; here its known bytes are put over the edges again, and nothing is said where they do not fit.
 */
import type { ByteReading } from '../packet/index.js'
import { type Clause, type OutputMode, senderLimits } from '../standard/index.js'
import { formatByte, formatNumber } from '../units/index.js'
import { OFF } from './edges.js'

/** A level that lasts less than this share of the nominal half of a one is a glitch, which the reader leaves out. */
const GLITCH_SHARE = 0.35
/** More ones than this in front of a packet are not numbered one by one. */
const MOST_PREAMBLE = 64

export type BitRole = 'preamble' | 'start' | 'data' | 'end'

export interface BitReading {
  fromUs: number
  /** The edge between its halves. */
  middleUs: number
  toUs: number
  value: 0 | 1
  role: BitRole
  /** Byte of the packet, from 0; of a start bit the one that follows. -1 in the preamble, and for the end bit. */
  byte: number
  /** In the preamble its number, from 1; in a byte 7 for the first and highest bit, 0 for the last. */
  index: number
}

export interface BitEdges {
  timesUs: ArrayLike<number>
  levels: ArrayLike<number>
  count: number
}

export interface BitPacket {
  /** First edge of the start bit, last edge of the end bit, us. */
  startUs: number
  endUs: number
  bytes: ArrayLike<number>
  /** Ones before it. */
  preamble: number
}

/** All bits of a packet in time order; none when the edges do not carry these bytes (a spoiled packet). */
export function bitsOfPacket(
  edges: BitEdges,
  packet: BitPacket,
  limits: Pick<BitLimits, 'one' | 'zero'>,
): BitReading[] {
  const { startUs, endUs, bytes } = packet
  const first = indexAt(edges, startUs)
  const { glitchUs, oneTotalUs } = boundaries(limits)
  const times = cleaned(edges, first, endUs, glitchUs)
  const wanted = 9 * bytes.length + 1
  if (times.length !== 2 * wanted + 1) return []
  const bits: BitReading[] = []
  for (let i = 0; i < wanted; i++) {
    const [fromUs, middleUs, toUs] = [times[2 * i]!, times[2 * i + 1]!, times[2 * i + 2]!]
    const value = toUs - fromUs < oneTotalUs ? 1 : 0
    const byte = Math.floor(i / 9)
    const place = i % 9
    const isEnd = i === wanted - 1
    const expected = isEnd ? 1 : place === 0 ? 0 : (bytes[byte]! >> (8 - place)) & 1
    if (value !== expected) return []
    bits.push({
      fromUs,
      middleUs,
      toUs,
      value,
      role: isEnd ? 'end' : place === 0 ? 'start' : 'data',
      byte: isEnd ? -1 : byte,
      index: isEnd || place === 0 ? 0 : 8 - place,
    })
  }
  return [...preambleOf(edges, first, packet.preamble, limits), ...bits]
}

function preambleOf(
  { timesUs, levels }: BitEdges,
  start: number,
  ones: number,
  limits: Pick<BitLimits, 'one' | 'zero'>,
): BitReading[] {
  const { glitchUs, oneTotalUs } = boundaries(limits)
  const bits: BitReading[] = []
  for (let i = start; i >= 2 && bits.length < Math.min(ones, MOST_PREAMBLE); i -= 2) {
    if (levels[i - 2] === OFF || levels[i - 1] === OFF) break
    const [fromUs, middleUs, toUs] = [timesUs[i - 2]!, timesUs[i - 1]!, timesUs[i]!]
    if (toUs - fromUs >= oneTotalUs || middleUs - fromUs < glitchUs || toUs - middleUs < glitchUs) break
    const index = ones - bits.length
    bits.push({ fromUs, middleUs, toUs, value: 1, role: 'preamble', byte: -1, index })
  }
  return bits.reverse()
}

/** Edges from one on, without those around a level that is too short for any half-bit. */
function cleaned({ timesUs, count }: BitEdges, first: number, endUs: number, glitchUs: number): number[] {
  const times: number[] = []
  for (let i = first; i < count && timesUs[i]! <= endUs + 1e-6; i++) {
    if (times.length > 1 && timesUs[i]! - times.at(-1)! < glitchUs) times.pop()
    else times.push(timesUs[i]!)
  }
  return times
}

function indexAt({ timesUs, count }: BitEdges, us: number): number {
  let low = 0
  let high = count
  while (low < high) {
    const middle = (low + high) >>> 1
    if (timesUs[middle]! < us - 1e-6) low = middle + 1
    else high = middle
  }
  return low
}

export interface BitLimits {
  one: Clause
  zero: Clause
  preamble: Clause
  mode: OutputMode
}

/** Halfway between the longest one and the shortest zero that decoders must accept, both halves together; see above. */
function boundaries({ one, zero }: Pick<BitLimits, 'one' | 'zero'>): {
  glitchUs: number
  oneTotalUs: number
} {
  const { nominal = 0, max = 0 } = one.sender
  const longestOne = one.receiver?.max ?? max
  const shortestZero = zero.receiver?.min ?? zero.sender.min ?? longestOne
  return { glitchUs: nominal * GLITCH_SHARE, oneTotalUs: longestOne + shortestZero }
}

/** One bit in words: what it is for, how long its halves are, what is allowed and how much of that is left. */
export function sayBit(
  bit: BitReading,
  bytes: readonly ByteReading[],
  ones: number,
  limits: BitLimits,
): string {
  return `${bit.value}, ${roleOf(bit, bytes, ones, limits)}. ${halvesOf(bit, limits)}`
}

function roleOf(bit: BitReading, bytes: readonly ByteReading[], ones: number, limits: BitLimits): string {
  const { role, index } = bit
  if (role === 'preamble') {
    const min = senderLimits(limits.preamble, limits.mode).min
    return `preamble bit ${index} of ${ones}${min === undefined ? '' : `, at least ${min} wanted (${sourceOf(limits.preamble)})`}`
  }
  if (role === 'end')
    return 'end bit: a one where a start bit would be; it may count as the first of the next preamble'
  const byte = bytes[bit.byte]
  const name = byteName(bit.byte, bytes.length)
  if (role === 'start')
    return `start bit of ${name}: a zero ${bit.byte === 0 ? 'ends the preamble' : 'says that another byte follows'}`
  if (!byte) return `bit ${index} of ${name}`
  const letter = byte.pattern[7 - index]
  const field = letter === '0' || letter === '1' ? `always ${letter} in such a byte` : `part of ${letter}`
  return `bit ${index} of ${name} ${formatByte(byte.byte)}, ${field}: ${byte.says}`
}

function byteName(index: number, count: number): string {
  if (index === count - 1 && count > 1) return 'the error byte'
  return index === 0 ? 'the first byte' : `byte ${index + 1}`
}

function halvesOf({ fromUs, middleUs, toUs, value }: BitReading, limits: BitLimits): string {
  const clause = value ? limits.one : limits.zero
  const { min = 0, max = Number.POSITIVE_INFINITY } = clause.sender
  const halves = [middleUs - fromUs, toUs - middleUs]
  const room = Math.min(...halves.map((h) => Math.min(h - min, max - h)))
  const left =
    room >= 0
      ? `${formatNumber(room, 3)} us from the nearer limit`
      : `outside by ${formatNumber(-room, 3)} us`
  return `Halves ${halves.map((h) => formatNumber(h, 5)).join(' and ')} us; allowed are ${min} to ${max} us (${sourceOf(clause)}): ${left}`
}

function sourceOf({ source }: Clause): string {
  const status = source.status === 'confirmed' ? '' : `, ${source.status}`
  return `${[source.document, source.edition].filter(Boolean).join(':')} ${source.section}${status}`
}

/** A half-bit outside any packet in words. */
export function sayHalf(us: number, limits: BitLimits): string {
  const { one, zero } = limits
  const inside = (clause: Clause) => us >= (clause.sender.min ?? 0) && us <= (clause.sender.max ?? us)
  const { glitchUs, oneTotalUs } = boundaries(limits)
  if (us < glitchUs) return `${formatNumber(us, 5)} us: too short for half a bit, a glitch`
  const clause = us < oneTotalUs / 2 ? one : zero
  const within = inside(clause) ? '' : ', outside the limits'
  const what =
    clause === one ? 'half of a one, between packets' : 'as long as half of a zero, outside any packet'
  return `${formatNumber(us, 5)} us: ${what}; allowed are ${clause.sender.min} to ${clause.sender.max} us (${sourceOf(clause)})${within}`
}
