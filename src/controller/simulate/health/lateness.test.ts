import { expect, it } from 'vitest'
import { Lateness } from './lateness.js'

const us = (cycle: number) => cycle / 16

it('lists each interrupt that began late with what it waited for, and none that was merely entered', () => {
  const lateness = new Lateness()
  // A handler of vector 5 ran from cycle 100 to 200; vector 9 was asked for at 120 and began at 210.
  lateness.masked(100, 200, 5, 0)
  lateness.began(9, 120, 210, us)
  // Entry and an instruction under way explain this one.
  lateness.began(9, 1000, 1010, us)
  // An instruction at 0x40 had turned interrupts off.
  lateness.masked(2000, 2100, -1, 0x40)
  lateness.began(9, 2010, 2110, us)
  expect(lateness.count).toBe(2)
  expect(lateness.list).toEqual([
    { late: 9, atUs: 210 / 16, lateUs: 90 / 16, vector: 5, pc: 0 },
    { late: 9, atUs: 2110 / 16, lateUs: 100 / 16, vector: -1, pc: 0x40 },
  ])
})

it('bounds the list and counts on', () => {
  const lateness = new Lateness()
  for (let i = 0; i < 6000; i++) {
    lateness.masked(1000 * i, 1000 * i + 50, 5, 0)
    lateness.began(9, 1000 * i, 1000 * i + 60, us)
  }
  expect([lateness.count, lateness.list.length]).toEqual([6000, 5000])
})
