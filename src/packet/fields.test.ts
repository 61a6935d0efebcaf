import { describe, expect, it } from 'vitest'
import { decodePacket } from './decode.js'
import { encodePacket } from './encode.js'
import { type Fields, packetFromFields } from './fields.js'
import { KINDS } from './kinds.data.js'
import type { Packet } from './packet.js'

const hexOf = (kind: string, fields: Record<string, string | boolean>) =>
  Buffer.from(encodePacket(packetFromFields(kind, fields))).toString('hex')

describe('packets from fields', () => {
  // Bytes of S-9.2:2004 Fig. 1 (printed) and of computed vectors of the published check list.
  it.each([
    ['speed', { address: '55', step: '6', of: '28' }, '377443'],
    ['speed', { address: '3', step: '126', of: '126' }, '033fffc3'],
    ['speed', { address: '3', emergency: true, of: '126', reverse: true }, '033f013d'],
    ['functions', { address: '10239', long: true, group: '0', on: '0,1' }, 'e7ff9189'],
    ['state', { address: '3', state: '300' }, '03c0ac026d'],
    ['cv', { address: '3', cv: '29', value: '6', write: true }, '03ec1c06f5'],
    ['cv', { address: '3', cv: '29', value: '1', bit: '5', write: true }, '03e81cfd0a'],
    ['accessory', { board: '1', pair: '0', output: '0' }, '81f879'],
    ['aspect', { address: 'all', aspect: '0' }, 'bf0700b8'],
    ['direct', { cv: '1', value: '3', write: true }, '7c00037f'],
    ['page-preset', {}, '7d017c'],
    ['idle', {}, 'ff00ff'],
  ])('%s %j is %s', (kind, fields, hex) => expect(hexOf(kind, fields as Record<string, string>)).toBe(hex))

  it('every kind says what it needs', () => {
    for (const { kind, fields } of KINDS) {
      const needed = fields.filter((f) => !f.flag && !f.optional)
      if (needed.length === 0)
        expect(decodePacket(encodePacket(packetFromFields(kind, {}))).says).not.toBe('')
      else expect(() => packetFromFields(kind, {}), kind).toThrow(/needs|expected/)
    }
  })

  it.each([
    ['fly', {}, /no kind fly/],
    ['idle', { address: '3' }, /takes no fields; found address/],
    ['speed', { address: 'x', step: '1', of: '28' }, /address is x/],
    ['speed', { address: '3', step: '1', of: '27' }, /of is 27/],
    ['functions', { address: '3', group: '1', on: '1' }, /group is 1/],
  ])('%s %j is refused', (kind, fields, says) => {
    expect(() => packetFromFields(kind, fields as Record<string, string>)).toThrow(says)
  })
})

describe('kinds', () => {
  /** Fields that make each kind, and the kind of packet that comes of it. */
  const SAMPLES: Record<string, [Fields, Packet['kind']]> = {
    idle: [{}, 'idle'],
    reset: [{ address: '0' }, 'reset'],
    stop: [{ immediate: true }, 'broadcast-stop'],
    speed: [{ address: '3', step: '6', of: '28', forward: true }, 'speed'],
    functions: [{ address: '3', on: '30,33' }, 'functions'],
    'speed-functions': [{ address: '3', step: '9', on: '0,17' }, 'speed-and-functions'],
    restrict: [{ address: '3', step: '12' }, 'restricted-speed'],
    state: [{ address: '3', state: '5', 'long-form': true }, 'binary-state'],
    analog: [{ address: '3', value: '99' }, 'analog-function'],
    consist: [{ address: '3', consist: '10' }, 'consist'],
    cv: [{ address: '3', cv: '29', value: '6' }, 'cv'],
    'cv-short': [{ address: '3', which: 'CV17+18', data: '192,3' }, 'cv-short'],
    'cv-extended': [{ address: '3', op: 'read', cv: '70000' }, 'cv-extended'],
    'hard-reset': [{ address: '3' }, 'hard-reset'],
    flags: [{ address: '3', code: '15' }, 'flags'],
    'long-address': [{ address: '3', off: true }, 'extended-addressing'],
    acknowledge: [{ address: '3' }, 'acknowledgement-request'],
    'factory-test': [{ address: '3', data: '1,2' }, 'factory-test'],
    accessory: [{ number: '5', output: '1' }, 'accessory'],
    aspect: [{ number: '1', aspect: '4' }, 'extended-accessory'],
    'emergency-off': [{}, 'accessory'],
    poll: [{ board: '3', pair: '1' }, 'accessory-poll'],
    'accessory-cv': [{ board: '3', cv: '1', value: '0' }, 'accessory-cv'],
    'accessory-cv-old': [{ board: '3', cv: '1', value: '0' }, 'accessory-cv-legacy'],
    'aspect-cv': [{ address: '3', cv: '1', value: '0' }, 'extended-accessory-cv'],
    time: [{ hour: '20', minute: '15' }, 'layout-time'],
    date: [{ day: '1', month: '2', year: '1957' }, 'layout-date'],
    'system-time': [{ ms: '40000' }, 'system-time'],
    capabilities: [{ data: '1' }, 'station-capabilities'],
    advanced: [{ data: '1,2' }, 'advanced-extended'],
    logon: [{ data: '1,2,3,4,5' }, 'automatic-logon'],
    direct: [{ cv: '8', value: '1', bit: '7' }, 'service-direct'],
    'address-only': [{ value: '3', write: true }, 'service-register'],
    register: [{ register: '5', value: '6' }, 'service-register'],
    page: [{ cv: '65' }, 'service-register'],
    'page-preset': [{}, 'service-register'],
    'factory-reset': [{}, 'service-register'],
    'address-query': [{ address: '3' }, 'service-address-query'],
    lock: [{ address: '3' }, 'service-lock'],
  }

  it('are all sampled here', () =>
    expect(KINDS.map((k) => k.kind).sort()).toEqual(Object.keys(SAMPLES).sort()))

  it.each(Object.entries(SAMPLES))('%s makes what it says', (kind, [fields, wanted]) => {
    const packet = packetFromFields(kind, fields)
    expect(packet.kind).toBe(wanted)
    const { about } = KINDS.find((k) => k.kind === kind)!
    const decoded = decodePacket(encodePacket(packet), {
      mode: about === 'service mode' ? 'service' : 'operations',
    })
    expect(decoded.packet).toEqual(packet)
    expect(decoded.findings.filter((f) => f.kind !== 'note')).toEqual([])
  })

  it('number accessories by the offset', () => {
    const place = (accessoryOffset: number) =>
      packetFromFields('accessory', { number: '5', output: '0' }, { accessoryOffset })
    expect(place(4)).toMatchObject({ board: 2, pair: 0 })
    expect(place(0)).toMatchObject({ board: 1, pair: 0 })
  })

  // S-9.2.3:2012 E, printed example (confirmed): CV65 is on page 17.
  it('find the page of a CV', () => expect(hexOf('page', { cv: '65' })).toBe('7d116c'))

  it.each([
    [
      'speed',
      { address: '3', step: '1', of: '28', forward: true, reverse: true },
      /both forward and reverse/,
    ],
    ['speed', { address: '3', step: '1', of: '126', headlight: true }, /no headlight/],
    ['accessory', { number: '5', board: '1', output: '0' }, /number is given/],
    ['speed-functions', { address: '3', step: '1', on: '40' }, /functions up to 31/],
    ['functions', { address: '3', on: '0,5' }, /function is 5/],
    ['cv-extended', { address: '3', op: 'burn', cv: '1' }, /op is burn/],
    ['restrict', { address: '3', step: '29' }, /step is 29/],
  ])('%s %j is refused', (kind, fields, says) => {
    expect(() => encodePacket(packetFromFields(kind, fields as Fields))).toThrow(says)
  })
})
