import { describe, expect, it } from 'vitest'
import { decodePacket } from './decode.js'
import { encodePacket } from './encode.js'
import { KINDS, packetFromFields } from './fields.js'

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
