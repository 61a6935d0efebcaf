import { describe, expect, it } from 'vitest'
import { daysInMonth } from './calendar.js'
import { decodePacket, encodePacket, packetFromFields, packetsFromFields } from './index.js'

const says = (bytes: ArrayLike<number>) => decodePacket([...Array.from(bytes)]).says

describe('packets made from fields', () => {
  it('take functions of several groups as one packet for each', () => {
    const packets = packetsFromFields('functions', { address: '3', on: '1,7,5,68' })
    expect(packets.map((p) => p.kind === 'functions' && [p.group, p.on])).toEqual([
      [0, [1]],
      [5, [7, 5]],
      [61, [68]],
    ])
    expect(packetsFromFields('functions', { address: '3', on: '1', group: undefined })).toHaveLength(1)
    // Where a group is stated, another one's function is a mistake.
    const stated = packetsFromFields('functions', { address: '3', on: '1,7', group: '0' })
    expect(() => stated.map(encodePacket)).toThrow(/function/)
  })

  it('have dates that there are: the Gregorian calendar', () => {
    const date = (day: string, month: string, year: string) =>
      encodePacket(packetFromFields('date', { day, month, year }))
    expect(() => date('29', '2', '2025')).toThrow(/day is 29; expected 1 to 28 in month 2 of 2025/)
    expect(() => date('31', '4', '2024')).toThrow(/1 to 30/)
    expect(says(date('29', '2', '2024'))).toBe('layout date 2024-02-29')
    expect(() => date('29', '2', '1900')).toThrow(/28/)
    expect(daysInMonth(2000, 2)).toBe(29)
    // 29 February 2025 on the wire: byte for byte as the kind is made.
    const wrong = [0, 0xc1, 0x40 | 29, (2 << 4) | (2025 >> 8), 2025 & 255]
    const { findings } = decodePacket([...wrong, wrong.reduce((a, b) => a ^ b)])
    expect(findings.map((f) => f.says).join()).toMatch(/day 29 of month 2 in 2025, which there is not/)
  })

  it('say the time in plain words', () => {
    const time = (more: object) =>
      says(encodePacket(packetFromFields('time', { hour: '9', minute: '5', ...more })))
    expect(time({})).toBe('layout time 09:05, clock in real time')
    expect(time({ factor: '4', weekday: '0' })).toBe(
      'layout time Monday 09:05, clock 4 times as fast as real time',
    )
    expect(time({ factor: '0' })).toBe('layout time 09:05, clock stopped')
  })

  it('do not take bytes written one after another for a decimal number', () => {
    const data = (text: string) => packetFromFields('capabilities', { data: text })
    expect(() => data('0102')).toThrow(
      /data is 0102; expected a decimal number without zeros in front, or hex/,
    )
    expect(data('1,2')).toEqual(data('0x01,0x02'))
    expect(data('0')).toMatchObject({ data: [0] })
  })
})
