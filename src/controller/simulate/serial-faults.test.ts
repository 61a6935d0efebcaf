import { expect, it } from 'vitest'
import { serialFaults } from './evidence.js'

const port = { name: 'USART0', overrun: 0, whileOff: 0, frameErrors: 0 }
const saidOf = (ports: Parameters<typeof serialFaults>[0]) => serialFaults(ports).map((f) => f.sentence)

// ATmega328P data sheet, examples of baud rate setting at 16 MHz: UBRR 25 is 38.4 kbaud to 0.2 %, UBRR 8 is 115.2 kbaud to -3.5 %.
it('tells a rate that is farther off than the data sheet recommends', () => {
  expect(saidOf([{ ...port, rates: { line: 115200, own: 16e6 / 16 / 9 } }])).toEqual([
    'USART0 receives at 111111 baud what is sent at 115200: 3.5 % off, where the data sheet recommends no more than 2 %',
  ])
  expect(saidOf([{ ...port, rates: { line: 38400, own: 16e6 / 16 / 26 } }, port])).toEqual([])
})

it('tells lost bytes beside it', () => {
  expect(saidOf([{ ...port, frameErrors: 2, rates: { line: 38400, own: 57143 } }])).toEqual([
    expect.stringContaining('49 % off'),
    expect.stringContaining('2 bytes from outside were lost'),
  ])
})
