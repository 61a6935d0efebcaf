/** The packets the traffic consists of, made by the packet room, and how long each takes. */
import {
  encodePacket,
  FUNCTION_GROUPS,
  type FunctionGroup,
  type Packet,
  packetDurationUs,
  type Target,
} from '../packet/index.js'
import { ITEMS, type Item } from './design.js'

/** Names of the items by number; item 0 is the speed, the others the function groups in their order. */
export const ITEM_NAMES = Object.keys(ITEMS) as readonly Item[]
export const ITEM_COUNT = ITEM_NAMES.length

export interface DecoderAddress {
  address: number
  long: boolean
  steps: 14 | 28 | 128
}

/** Speed steps that move the train: 14, 28 or 126. */
export function movingSteps(steps: 14 | 28 | 128): number {
  return steps === 128 ? 126 : steps
}

/** The item that carries a function, 1…10. */
export function itemOfFunction(f: number): number {
  let item = 1
  while (item < FUNCTION_GROUPS.length && f >= FUNCTION_GROUPS[item]!) item++
  return item
}

/** The bit of a function in the value of its item: the lowest function in bit 0. */
export function bitOfFunction(f: number): number {
  return 1 << (f - FUNCTION_GROUPS[itemOfFunction(f) - 1]!)
}

/** Value of the speed item: bit 7 forward, the rest the step from 0. */
export const FORWARD = 0x80

/**
 * The bytes of an item's packet with its error byte.
 * @param item number in {@link ITEM_NAMES}; @param value of a speed: step | {@link FORWARD}; of functions: a bit each.
 */
export function itemBytes(to: DecoderAddress, item: number, value: number): Uint8Array {
  const target: Target = { kind: to.long ? 'long' : 'short', address: to.address }
  return encodePacket(
    item === 0 ? speedPacket(target, to.steps, value) : functionsPacket(target, item, value),
  )
}

function speedPacket(target: Target, steps: 14 | 28 | 128, value: number): Packet {
  const common = { target, step: value & 0x7f, forward: (value & FORWARD) !== 0, emergency: false }
  if (steps === 128) return { kind: 'speed-126', ...common }
  return { kind: 'speed', of: steps, directionIgnored: false, headlight: false, ...common }
}

function functionsPacket(target: Target, item: number, value: number): Packet {
  const group: FunctionGroup = FUNCTION_GROUPS[item - 1]!
  const on = Array.from({ length: 8 }, (_, i) => i).filter((i) => value & (1 << i))
  return { kind: 'functions', target, group, on: on.map((i) => group + i) }
}

/**
 * Basic accessory packet that activates one output of a pair.
 * @param turnout user number from 1; @param offset 4 counts from board 1, 0 from board 0.
 */
export function turnoutBytes(turnout: number, output: number, offset = 4): Uint8Array {
  const wire = turnout - 1 + offset
  return encodePacket({ kind: 'accessory', board: wire >> 2, pair: wire & 3, output, on: true })
}

export const IDLE_BYTES: Uint8Array = encodePacket({ kind: 'idle' })

/** How the output sends its bits. */
export interface PacketTiming {
  oneHalfUs: number
  zeroHalfUs: number
  preamble: number
  /** From the last edge of the end bit to the end of the bidirectional cut-out, us; 0 without one. */
  cutoutUs: number
}

/** Start of the start bit to end of the end bit, ns. */
export function packetNs(bytes: Uint8Array, timing: PacketTiming): number {
  return Math.round(packetDurationUs(bytes, 0, timing.oneHalfUs, timing.zeroHalfUs) * 1000)
}

/** The preamble before a start bit, ns. */
export function preambleNs(timing: PacketTiming): number {
  return Math.round(2 * timing.oneHalfUs * timing.preamble * 1000)
}
