/**
 * An accessory decoder: at one pair of outputs, each switched on for a pulse, by basic packets; or showing aspects, by
 * extended ones (S-9.2.1:2012 D; CV3 to CV6 of S-9.2.2:2012).
 */
import { accessoryNumber, decodePacket } from '../../packet/index.js'

/** How long an output stays on by itself where nothing else is set, us; 0: until it is switched off. Assumed. */
const PULSE_US = 250e3
const MOST_PULSES = 1000

export interface Pulse {
  output: 0 | 1
  fromUs: number
  /** Infinity while nothing has ended it. */
  untilUs: number
}

export class AccessoryDecoder {
  /** Of the turnout that it throws. */
  readonly name: string
  /** Number of its output pair, from 1. */
  readonly address: number
  readonly pulses: Pulse[] = []
  /** What an extended packet has set; 0 is an absolute stop. */
  aspect: number | undefined
  readonly #pulseUs: number

  constructor(name: string, address: number, pulseUs = PULSE_US) {
    this.name = name
    this.address = address
    this.#pulseUs = pulseUs
  }

  /**
   * A packet that was read without fault.
   * @returns the output that is switched on anew. Common practice, no source: output 1 is straight, 0 diverging.
   */
  packet(bytes: Uint8Array, timeUs: number): 0 | 1 | undefined {
    const { packet } = decodePacket(bytes)
    if (packet?.kind === 'extended-accessory') {
      const { address, aspect } = packet
      if (address === 'all' || accessoryNumber(address) === this.address) this.aspect = aspect
      return undefined
    }
    if (packet?.kind !== 'accessory') return undefined
    const { board, pair, output, on } = packet
    const mine = board === 'all' || accessoryNumber(4 * board + pair) === this.address
    if (!mine) return undefined
    const last = this.pulses.at(-1)
    const isOn = last !== undefined && last.untilUs > timeUs
    if (!on) {
      if (isOn && (board === 'all' || last.output === output)) last.untilUs = timeUs
      return undefined
    }
    // A repeated packet does not start another pulse; the other output ends this one.
    if (isOn && last.output === output) return undefined
    if (isOn) last.untilUs = timeUs
    const untilUs = this.#pulseUs > 0 ? timeUs + this.#pulseUs : Number.POSITIVE_INFINITY
    const which = output === 1 ? 1 : 0
    if (this.pulses.length === MOST_PULSES) this.pulses.shift()
    this.pulses.push({ output: which, fromUs: timeUs, untilUs })
    return which
  }
}
