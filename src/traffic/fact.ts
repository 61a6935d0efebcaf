/**
 * The traffic that was really sent, from the packets of a capture or of simulated firmware: the same figures as the
 * plan's, so that both stand beside each other.
 */
import {
  addresseeOf,
  decodePacket,
  FUNCTION_GROUPS,
  NOBODY,
  nameAddressee,
  type Packet,
} from '../packet/index.js'
import type { AddressReading, PacketRecord } from '../signal/index.js'
import type { Clause, Evidence, Origin } from '../standard/index.js'
import type { Item } from './design.js'
import { type RefreshSeen, refreshEvidence } from './judge.js'
import { ITEM_NAMES } from './packets.js'
import type { Locomotive } from './plan.js'
import type { CONTENTS } from './station-run.js'
import { quantileOf } from './statistics.js'

export type SeenContent = (typeof CONTENTS)[number] | 'other'

export interface AddressSeen {
  addressee: number
  /** In words: `3`, `long 1234`. */
  name: string
  packets: number
  /** Start bit to start bit, us; NaN for a single packet. */
  meanUs: number
  worstUs: number
  worstAtUs: number
  /** End bit to the next start bit, us. */
  shortestGapUs: number
  /** What it gets, and how often. */
  items: { item: Item | 'other'; packets: number; meanUs: number }[]
}

export interface ChangeSeen {
  content: SeenContent
  /** Packets that differ from the one before of the same kind to the same address. */
  changes: number
  /** Median time from each copy to the next, us: first to second, second to third and so on. */
  copyUs: number[]
  /** Copies that follow quickly, in less than half of the usual time between packets of the kind. */
  repeats: number
}

export interface TrafficSeen {
  timeUs: number
  packets: number
  perSecond: number
  sent: { content: SeenContent; count: number; share: number }[]
  /** Packets that are no valid ones are not counted. */
  addresses: AddressSeen[]
  changes: ChangeSeen[]
}

type SeenPacket = Pick<PacketRecord, 'timeUs' | 'endUs' | 'bytes' | 'valid'>

const COPIES = 6
/** Enough for medians; a long run does not fill the memory. */
const MOST_INTERVALS = 20000

class Pauses {
  count = 0
  sumUs = 0
  worstUs = 0
  worstAtUs = 0
  lastUs = Number.NaN

  at(us: number): number {
    const pause = us - this.lastUs
    if (!Number.isNaN(pause)) {
      this.sumUs += pause
      if (pause > this.worstUs) {
        this.worstUs = pause
        this.worstAtUs = us
      }
    }
    this.count++
    this.lastUs = us
    return pause
  }

  get meanUs(): number {
    return this.count > 1 ? this.sumUs / (this.count - 1) : Number.NaN
  }
}

interface Stream {
  content: SeenContent
  item: Item | 'other'
  pauses: Pauses
  bytes: string
  /** Copies since the last change; above COPIES nothing is noted. */
  copy: number
}

/** Watches packets one by one, in the order of time. */
export class TrafficWatch {
  #from = Number.NaN
  #until = Number.NaN
  #counts = new Map<SeenContent, number>()
  #addresses = new Map<
    number,
    { pauses: Pauses; endUs: number; gapUs: number; streams: Map<string, Stream> }
  >()
  #changes = new Map<SeenContent, { count: number; copies: number[][]; steady: number[] }>()

  add(packet: SeenPacket): void {
    if (!packet.valid) return
    const { timeUs, endUs, bytes } = packet
    if (Number.isNaN(this.#from)) this.#from = timeUs
    this.#until = endUs
    const { content, item } = contentOf(bytes)
    this.#counts.set(content, (this.#counts.get(content) ?? 0) + 1)
    const addressee = addresseeOf(bytes, 0, bytes.length)
    if (addressee === NOBODY) return
    let address = this.#addresses.get(addressee)
    if (!address) {
      address = {
        pauses: new Pauses(),
        endUs: Number.NaN,
        gapUs: Number.POSITIVE_INFINITY,
        streams: new Map(),
      }
      this.#addresses.set(addressee, address)
    }
    address.pauses.at(timeUs)
    if (timeUs - address.endUs < address.gapUs) address.gapUs = timeUs - address.endUs
    address.endUs = endUs
    const key = content === 'turnouts' ? `turnouts ${(bytes[1]! >> 1) & 3}` : item
    let stream = address.streams.get(key)
    if (!stream) {
      stream = { content, item, pauses: new Pauses(), bytes: '', copy: COPIES }
      address.streams.set(key, stream)
    }
    this.#follow(stream, timeUs, bytes.join())
  }

  #follow(stream: Stream, timeUs: number, bytes: string): void {
    const pause = stream.pauses.at(timeUs)
    let change = this.#changes.get(stream.content)
    if (!change) {
      change = { count: 0, copies: Array.from({ length: COPIES }, () => []), steady: [] }
      this.#changes.set(stream.content, change)
    }
    if (stream.bytes !== bytes) {
      // The first packet of all is no change: what was before it is not known.
      if (stream.bytes !== '') {
        change.count++
        stream.copy = 0
      }
      stream.bytes = bytes
      return
    }
    const list = stream.copy < COPIES ? change.copies[stream.copy]! : change.steady
    if (list.length < MOST_INTERVALS) list.push(pause)
    stream.copy++
  }

  finish(): TrafficSeen {
    const packets = [...this.#counts.values()].reduce((a, b) => a + b, 0)
    const timeUs = packets > 0 ? this.#until - this.#from : 0
    return {
      timeUs,
      packets,
      perSecond: timeUs > 0 ? (packets / timeUs) * 1e6 : 0,
      sent: [...this.#counts].map(([content, count]) => ({ content, count, share: count / packets })),
      addresses: [...this.#addresses]
        .sort(([a], [b]) => a - b)
        .map(([addressee, a]) => ({
          addressee,
          name: nameAddressee(addressee),
          packets: a.pauses.count,
          meanUs: a.pauses.meanUs,
          worstUs: a.pauses.worstUs,
          worstAtUs: a.pauses.worstAtUs,
          shortestGapUs: a.gapUs,
          items: [...a.streams.values()].map((s) => ({
            item: s.item,
            packets: s.pauses.count,
            meanUs: s.pauses.meanUs,
          })),
        })),
      changes: [...this.#changes].flatMap(([content, c]) => (c.count > 0 ? [changeOf(content, c)] : [])),
    }
  }
}

function changeOf(
  content: SeenContent,
  c: { count: number; copies: number[][]; steady: number[] },
): ChangeSeen {
  const median = (list: readonly number[]) => quantileOf(Float64Array.from(list).sort(), 0.5)
  const copyUs = c.copies.map(median).filter((us) => !Number.isNaN(us))
  const usual = median(c.steady.length > 0 ? c.steady : c.copies.at(-1)!)
  const slow = copyUs.findIndex((us) => us >= usual / 2)
  return {
    content,
    changes: c.count,
    copyUs,
    repeats: Number.isNaN(usual) || slow < 0 ? copyUs.length : slow,
  }
}

/** Figures of the packets of a record. */
export function trafficFromPackets(packets: Iterable<SeenPacket>): TrafficSeen {
  const watch = new TrafficWatch()
  for (const p of packets) watch.add(p)
  return watch.finish()
}

function contentOf(bytes: Uint8Array): { content: SeenContent; item: Item | 'other' } {
  const packet: Packet | undefined = decodePacket(bytes).packet
  switch (packet?.kind) {
    case 'speed':
    case 'speed-126':
    case 'speed-and-functions':
      return { content: 'speed', item: 'speed' }
    case 'functions':
      return { content: 'functions', item: ITEM_NAMES[FUNCTION_GROUPS.indexOf(packet.group) + 1]! }
    case 'accessory':
    case 'extended-accessory':
      return { content: 'turnouts', item: 'other' }
    case 'idle':
      return { content: 'idle', item: 'other' }
    default:
      return { content: 'other', item: 'other' }
  }
}

/**
 * Evidence for `refresh` from what a reader or a watch saw of each address: those of the fleet that got two packets
 * or more.
 * @param ranUs time that was watched.
 */
export function refreshSeen(
  locomotives: readonly Locomotive[],
  seen: readonly (AddressReading | AddressSeen)[],
  clause: Clause,
  about: {
    origin: Exclude<Origin, 'calculated'>
    source: string
    ranUs: number
    about?: string | undefined
    file?: string | undefined
  },
): Evidence[] {
  const byAddress = new Map(locomotives.map((l) => [l.addressee, l]))
  const rows = seen.flatMap((s): RefreshSeen[] => {
    const l = byAddress.get(s.addressee)
    const worstUs = 'worstUs' in s ? s.worstUs : s.longestIntervalUs
    if (!l || worstUs === 0) return []
    const at = 'worstAtUs' in s ? { worstAtUs: s.worstAtUs } : {}
    return [{ name: l.name, worstUs, timeoutUs: l.design.timeout, ...at }]
  })
  return refreshEvidence(rows, clause, about)
}
