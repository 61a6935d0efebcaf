// Source: packets of accessories S-9.2.1:2012 D (confirmed).
import { describe, expect, it } from 'vitest'
import { encodePacket } from '../../packet/index.js'
import { AccessoryDecoder } from './accessory.js'

describe('an accessory decoder', () => {
  const throwTo = (output: number, on = true, pair = 0): Uint8Array =>
    encodePacket({ kind: 'accessory', board: 1, pair, output, on })

  it('answers its own pair, with one pulse however often the packet comes', () => {
    const a = new AccessoryDecoder('T1', 1)
    expect(a.packet(throwTo(1, true, 1), 0)).toBeUndefined()
    expect(a.packet(throwTo(1), 1000)).toBe(1)
    expect(a.packet(throwTo(1), 9000)).toBeUndefined()
    expect(a.pulses).toEqual([{ output: 1, fromUs: 1000, untilUs: 251_000 }])
    expect(a.packet(throwTo(0), 100e3)).toBe(0)
    expect(a.pulses.map((p) => p.untilUs)).toEqual([100e3, 350e3])
  })

  it('shows the aspect of an extended packet to its own number or to all, and moves no output by it', () => {
    const a = new AccessoryDecoder('S1', 1)
    const show = (address: number | 'all', aspect: number) =>
      a.packet(encodePacket({ kind: 'extended-accessory', address, aspect }), 0)
    // Number 1 is wire address 4 (the vector 81 71 of S-9.2.1:2012 D).
    expect(show(5, 7)).toBeUndefined()
    expect(a.aspect).toBeUndefined()
    show(4, 3)
    expect(a.aspect).toBe(3)
    show('all', 0)
    expect([a.aspect, a.pulses]).toEqual([0, []])
  })

  it('keeps a continuous output on until it is switched off', () => {
    const a = new AccessoryDecoder('T1', 1, 0)
    a.packet(throwTo(0), 1000)
    a.packet(throwTo(0, false), 5e6)
    expect(a.pulses).toEqual([{ output: 0, fromUs: 1000, untilUs: 5e6 }])
  })
})
