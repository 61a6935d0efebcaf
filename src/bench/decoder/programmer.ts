/** Service mode from the decoder's side: when an instruction is acted on, and with what answer (S-9.2.3:2012). */
import { decodePacket, type Packet } from '../../packet/index.js'
import type { Cvs } from './cvs.js'

/** Without a valid reset or service-mode packet for as long the mode is left (S-9.2.3:2012 C), us. */
const LEAVES_AFTER_US = 20e3
/** Registers of physical register and paged mode: S-9.2.3:2012 E. */
const CONFIGURATION = 29
const PAGE_REGISTER = 6
const REGISTER_CVS: Readonly<Record<number, number>> = {
  1: 1,
  2: 2,
  3: 3,
  4: 4,
  5: CONFIGURATION,
  7: 7,
  8: 8,
}

export interface Programmed {
  what: 'verified' | 'written'
  cv: number
  value: number
}

export class Programmer {
  readonly #cvs: Cvs
  #inServiceUntilUs = Number.NEGATIVE_INFINITY
  #afterReset = false
  #last = ''
  /** The packet has been acted on; copies of it do nothing more. */
  #done = false
  #page = 1

  constructor(cvs: Cvs) {
    this.#cvs = cvs
  }

  /** Power was lost: the page is 1 again, and the mode is left. */
  reset(): void {
    this.#inServiceUntilUs = Number.NEGATIVE_INFINITY
    this.#afterReset = false
    this.#last = ''
    this.#page = 1
  }

  isIn(timeUs: number): boolean {
    return timeUs <= this.#inServiceUntilUs
  }

  /**
   * Hear a packet.
   * @returns `taken`: it belongs to service mode, so operations leave it alone; `acts`: the decoder answers with an
   * acknowledgement now, for this.
   */
  packet(bytes: Uint8Array, timeUs: number): { taken: boolean; acts?: Programmed } {
    const isReset = bytes.length === 3 && bytes[0] === 0 && bytes[1] === 0
    if (isReset) {
      this.#afterReset = true
      this.#last = ''
      if (this.isIn(timeUs)) this.#inServiceUntilUs = timeUs + LEAVES_AFTER_US
      return { taken: false }
    }
    const first = bytes[0]!
    const mayBeService = first >= 112 && first <= 127
    const entered = this.isIn(timeUs) || (this.#afterReset && mayBeService)
    this.#afterReset = false
    if (!mayBeService || !entered) {
      this.#inServiceUntilUs = Number.NEGATIVE_INFINITY
      this.#last = ''
      return { taken: false }
    }
    this.#inServiceUntilUs = timeUs + LEAVES_AFTER_US
    const text = bytes.join()
    const isSecond = text === this.#last
    if (!isSecond) {
      this.#last = text
      this.#done = false
      return { taken: true }
    }
    if (this.#done) return { taken: true }
    this.#done = true
    const { packet } = decodePacket(bytes, { mode: 'service' })
    const acts = packet && this.#act(packet)
    return acts ? { taken: true, acts } : { taken: true }
  }

  #act(packet: Packet): Programmed | undefined {
    if (packet.kind === 'service-direct') {
      const { access } = packet
      const { cv } = access
      if (access.op === 'verify') return this.#verified(cv, access.value)
      if (access.op === 'write') return this.#write(cv, access.value)
      if (access.op === 'verify-bit') {
        const bit = (this.#cvs.reads(cv) >> access.bit) & 1
        return bit === access.value ? { what: 'verified', cv, value: access.value } : undefined
      }
      const was = this.#cvs.reads(cv)
      return this.#write(cv, access.value ? was | (1 << access.bit) : was & ~(1 << access.bit))
    }
    if (packet.kind !== 'service-register') return undefined
    const { register, value, op } = packet
    if (register === PAGE_REGISTER) {
      if (op === 'verify') return this.#page === value ? { what: 'verified', cv: 0, value } : undefined
      this.#page = value
      return { what: 'written', cv: 0, value }
    }
    // Data registers 1 to 4 reach the CVs of the page; the others stand for themselves.
    const cv = register <= 4 ? (((this.#page + 255) & 255) << 2) + register : REGISTER_CVS[register]
    if (cv === undefined) return undefined
    return op === 'verify' ? this.#verified(cv, value) : this.#write(cv, value)
  }

  #verified(cv: number, value: number): Programmed | undefined {
    return this.#cvs.reads(cv) === value ? { what: 'verified', cv, value } : undefined
  }

  #write(cv: number, value: number): Programmed | undefined {
    return this.#cvs.write(cv, value, true) ? { what: 'written', cv, value } : undefined
  }
}
