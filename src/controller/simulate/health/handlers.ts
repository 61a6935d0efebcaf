/**
 * What lies behind the interrupt vectors. avr-libc leads the vector of an interrupt without a handler to
 * `__bad_interrupt`, which jumps to address 0: the program starts again, without a reset.
 */
import type { AvrModel } from '../../chips/index.js'

/** `none`: the vector leads to address 0, or to flash that was never written. */
export type HandlerKind = 'handler' | 'none'

const MOST_JUMPS = 8

/** The kind of each vector, by following the jumps behind it. @param flash program memory, bytes. */
export function handlerKinds(flash: Uint8Array, vectors: number): HandlerKind[] {
  const words = flash.length >> 1
  const word = (i: number) => flash[2 * (i % words)]! | (flash[2 * (i % words) + 1]! << 8)
  return Array.from({ length: vectors }, (_, vector) => {
    let at = 2 * vector
    for (let jumps = 0; jumps < MOST_JUMPS; jumps++) {
      const w = word(at)
      if (w === 0xffff) return 'none'
      if (w >> 12 === 12) at = (at + 1 + (((w & 0xfff) << 20) >> 20) + words) % words
      else if ((w & 0xfe0e) === 0x940c) at = ((((w >> 3) & 0x3e) | (w & 1)) * 0x10000 + word(at + 1)) % words
      else return 'handler'
      if (at === 0) return 'none'
    }
    return 'handler'
  })
}

/** Byte address of the first instruction of each vector's handler. */
export function handlerAddress(flash: Uint8Array, vector: number): number {
  const words = flash.length >> 1
  const at = 2 * vector
  const w = flash[2 * at]! | (flash[2 * at + 1]! << 8)
  const next = flash[2 * at + 2]! | (flash[2 * at + 3]! << 8)
  if (w >> 12 === 12) return 2 * ((at + 1 + (((w & 0xfff) << 20) >> 20) + words) % words)
  if ((w & 0xfe0e) === 0x940c) return 2 * (((((w >> 3) & 0x3e) | (w & 1)) * 0x10000 + next) % words)
  return 2 * at
}

const EECR = 0x3f
const EIMSK = 0x3d
const SPCR = 0x4c
const ACSR = 0x50
const SPMCSR = 0x57
const WDTCSR = 0x60
const PCICR = 0x68
const ADCSRA = 0x7a
const TWCR = 0xbc

export interface EnableBit {
  address: number
  bit: number
  vector: number
}

/** The bit that enables each interrupt (data sheets, register descriptions). */
export function enableBits(model: AvrModel): EnableBit[] {
  const bits: EnableBit[] = []
  const add = (address: number, bit: number, vector: number | undefined) => {
    if (vector !== undefined) bits.push({ address, bit, vector })
  }
  for (const { timsk, vectors } of model.timers) {
    vectors.compare.forEach((vector, i) => {
      add(timsk, 2 << i, vector)
    })
    add(timsk, 1, vectors.overflow)
    add(timsk, 0x20, vectors.capture)
  }
  if (model.timer4) {
    const { timsk, vectors } = model.timer4
    add(timsk, 0x40, vectors.A)
    add(timsk, 0x20, vectors.B)
    add(timsk, 0x80, vectors.D)
    add(timsk, 4, vectors.overflow)
  }
  for (const { base, vectors } of model.usarts) {
    add(base + 1, 0x80, vectors.received)
    add(base + 1, 0x40, vectors.sent)
    add(base + 1, 0x20, vectors.empty)
  }
  for (const { number, vector } of model.externalInterrupts) add(EIMSK, 1 << number, vector)
  model.pinChange.forEach(({ vector }, group) => {
    add(PCICR, 1 << group, vector)
  })
  add(ADCSRA, 8, model.adc.vector)
  add(SPCR, 0x80, model.spi.vector)
  add(TWCR, 1, model.twi.vector)
  add(EECR, 8, model.eeprom.vector)
  add(WDTCSR, 0x40, model.watchdog.vector)
  add(ACSR, 8, model.comparator.vector)
  add(SPMCSR, 0x80, model.selfProgramming.vector)
  return bits
}

/** Interrupts that were enabled, with interrupts on, although nothing serves them. */
export class HandlerWatch {
  readonly kinds: readonly HandlerKind[]
  /** By register address: whether it enables an interrupt without a handler. */
  readonly concerns = new Uint8Array(0x200)
  readonly found = new Map<number, { at: number; pc: number }>()
  readonly #bits: EnableBit[]
  /** One of them was written since they were looked at: only that enables an interrupt. */
  #written = true

  constructor(flash: Uint8Array, model: AvrModel) {
    this.kinds = handlerKinds(flash, model.vectors.length)
    this.#bits = enableBits(model).filter(({ vector }) => this.kinds[vector] === 'none')
    for (const { address } of this.#bits) this.concerns[address] = 1
  }

  /** A register of `concerns` was written; interrupts are on, or will be looked at when they are. */
  wrote(isOn: boolean, data: Uint8Array, at: number, pc: number): void {
    this.#written = true
    if (isOn) this.look(data, at, pc)
  }

  /** Interrupts are on. */
  look(data: Uint8Array, at: number, pc: number): void {
    if (!this.#written) return
    this.#written = false
    for (const { address, bit, vector } of this.#bits) {
      if ((data[address]! & bit) !== 0 && !this.found.has(vector)) this.found.set(vector, { at, pc })
    }
  }
}
