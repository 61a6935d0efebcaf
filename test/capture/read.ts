/** Reads a capture held in memory through importer and reader, and judges it. */
import {
  CaptureImporter,
  type CaptureOptions,
  type CaptureSummary,
  judgeAnalog,
} from '../../src/capture/index.js'
import {
  type EdgeClock,
  EdgeList,
  ENCODER_CLOCK,
  encodeSignal,
  judgeSignal,
  SignalReader,
  type SignalReading,
} from '../../src/signal/index.js'
import { type Evidence, isShown, profileOf } from '../../src/standard/index.js'

/** Invented: the refresh of a handful of locomotives. */
export const PACKETS = Array.from({ length: 24 }, (_, i) => {
  const bytes = [3 + (i % 6), 0x3f, (i * 37) & 255]
  return [...bytes, bytes[0]! ^ bytes[1]! ^ bytes[2]!]
})
export const HEX = PACKETS.map((p) => Buffer.from(p).toString('hex'))
export const SIGNAL = encodeSignal(PACKETS)
/** Time of each edge, us. */
export const US = Array.from({ length: SIGNAL.count }, (_, i) => SIGNAL.ticks[i]! * ENCODER_CLOCK.tickUs)
export const LEVELS = [...SIGNAL.levels.subarray(0, SIGNAL.count)]
const PROFILE = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })

export interface Read {
  summary: CaptureSummary
  edges: EdgeList
  clock: EdgeClock
  packets: string[]
  reading: SignalReading
  evidence: Evidence[]
}

export function read(file: string | Uint8Array, options: CaptureOptions = {}, chunk = 1 << 16): Read {
  const bytes = typeof file === 'string' ? new TextEncoder().encode(file) : file
  const edges = new EdgeList()
  const packets: string[] = []
  let clock: EdgeClock | undefined
  let reader: SignalReader | undefined
  const importer = new CaptureImporter(options, {
    begin(c) {
      clock = c
      reader = new SignalReader(c, { onPacket: (p) => packets.push(Buffer.from(p.bytes).toString('hex')) })
    },
    push(block) {
      edges.push(block)
      reader!.push(block)
    },
  })
  // One buffer used again and again, as a command does: nothing may be kept of it.
  const buffer = new Uint8Array(chunk)
  for (let i = 0; i < bytes.length && !importer.done; i += chunk) {
    const part = bytes.subarray(i, i + chunk)
    buffer.set(part)
    importer.push(buffer.subarray(0, part.length))
    buffer.fill(0x55)
  }
  const summary = importer.end()
  const reading = reader!.finish(summary.endUs / summary.clock.tickUs)
  reading.resolutionUs = Math.max(reading.resolutionUs, summary.clock.resolutionUs)
  const evidence = judgeSignal(reading, PROFILE, { origin: 'measured', source: 'capture' })
  if (summary.analog)
    evidence.push(
      ...judgeAnalog(summary.analog, PROFILE, { source: 'capture', probe: 'rails' }).filter(isShown),
    )
  return { summary, edges, clock: clock!, packets, reading, evidence }
}

/** Level at a time. */
export function levelAt(us: number): number {
  let low = 0
  let high = US.length - 1
  while (low < high) {
    const middle = (low + high + 1) >> 1
    if (US[middle]! <= us) low = middle
    else high = middle - 1
  }
  return us < US[0]! ? 1 - LEVELS[0]! : LEVELS[low]!
}

/** One row for every sample. */
export function everySample(sampleUs: number, row: (us: number, level: number, n: number) => string): string {
  const rows: string[] = []
  const end = US.at(-1)!
  for (let n = 0; n * sampleUs < end; n++) rows.push(row(n * sampleUs, levelAt(n * sampleUs), n))
  return `${rows.join('\n')}\n`
}

/** One row for every edge. */
export function everyEdge(row: (us: number, level: number, n: number) => string, newline = '\n'): string {
  return US.map((us, i) => row(us, LEVELS[i]!, i)).join(newline) + newline
}
