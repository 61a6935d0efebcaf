// Whether compare values came in time, in every way of loading them. The signal's own edges say what is right: where
// each half is exact no value was missed, and where one was missed a half is wrong.
import { describe, expect, it } from 'vitest'
import { reportOf } from '../../src/controller/index.js'
import { EdgeList } from '../../src/signal/index.js'
import { HAVE_COMPILER } from '../firmware/compile.js'
import { HZ, start } from './start.js'

const ONE = 928
const ZERO = 1600

/** Alternating bits: two halves of 928, two of 1600. The handler waits `late` cycles once in 256. */
function program(setUp: string, load: string, vector: string, late: number): string {
  return `
    #include <util/delay_basic.h>
    volatile uint8_t n;
    ISR(${vector}) {
      uint8_t k = ++n;
      if (k == 254) { if (${late} > 0) _delay_loop_2(${Math.max(1, Math.round(late / 4))}); }
      uint16_t half = (k & 2) ? ${ZERO - 1} : ${ONE - 1};
      ${load}
    }
    int main(void) { DDRB = 0x3f; DDRD = 0x08; ${setUp} sei(); for (;;) ; }`
}

const WAYS = {
  'CTC on channel A, its own top': {
    setUp: 'OCR1A = 927; TCCR1A = 1 << COM1A0; TIMSK1 = 1 << OCIE1A; TCCR1B = 1 << WGM12 | 1;',
    load: 'OCR1A = half;',
    vector: 'TIMER1_COMPA_vect',
    pin: 'PB1',
  },
  'CTC on channel B, below the top of A': {
    setUp: 'OCR1A = 927; OCR1B = 927; TCCR1A = 1 << COM1B0; TIMSK1 = 1 << OCIE1A; TCCR1B = 1 << WGM12 | 1;',
    load: 'OCR1B = half; OCR1A = half;',
    vector: 'TIMER1_COMPA_vect',
    pin: 'PB2',
  },
  'CTC on both channels as a pair': {
    setUp:
      'OCR1A = 927; OCR1B = 927; TCCR1A = 1 << COM1A0 | 1 << COM1B0; TIMSK1 = 1 << OCIE1A; TCCR1B = 1 << WGM12 | 1;',
    load: 'OCR1A = half; OCR1B = half;',
    vector: 'TIMER1_COMPA_vect',
    pin: 'PB1',
  },
  'CTC with ICR as top, on channel B': {
    setUp:
      'TCCR1A = 1 << COM1B0; TCCR1B = 1 << WGM13 | 1 << WGM12; ICR1 = 927; OCR1B = 927; TIMSK1 = 1 << ICIE1; TCCR1B = 1 << WGM13 | 1 << WGM12 | 1;',
    load: 'ICR1 = half; OCR1B = half;',
    vector: 'TIMER1_CAPT_vect',
    pin: 'PB2',
  },
  'free running on channel B': {
    setUp: 'OCR1B = 927; TCCR1A = 1 << COM1B0; TIMSK1 = 1 << OCIE1B; TCCR1B = 1;',
    load: 'OCR1B += half + 1;',
    vector: 'TIMER1_COMPB_vect',
    pin: 'PB2',
  },
  'fast PWM with a buffered top, toggled': {
    setUp:
      'TCCR1A = 1 << COM1A0 | 3; TCCR1B = 1 << WGM13 | 1 << WGM12; OCR1A = 927; TIMSK1 = 1 << TOIE1; TCCR1B = 1 << WGM13 | 1 << WGM12 | 1;',
    load: 'OCR1A = half;',
    vector: 'TIMER1_OVF_vect',
    pin: 'PB1',
  },
} as const

function run(way: keyof typeof WAYS, late: number) {
  const { setUp, load, vector, pin } = WAYS[way]
  const { machine } = start(program(setUp, load, vector, late))
  const edges = new EdgeList()
  const recorder = machine.record(edges, pin)
  machine.runTo(0.5 * HZ)
  const [output] = reportOf(machine, [{ name: 'main', pin, recorder }]).outputs
  const halves = [...edges.ticks.subarray(0, edges.count)].map((t, i, all) => t - (all[i - 1] ?? 0)).slice(4)
  return { output: output!, exact: halves.every((h) => h === ONE || h === ZERO), halves }
}

describe.skipIf(!HAVE_COMPILER)('compare values', () => {
  for (const way of Object.keys(WAYS) as (keyof typeof WAYS)[]) {
    it(`${way}: none is missed where every half is exact, with the time that was left`, () => {
      const { output, exact } = run(way, 0)
      expect(exact).toBe(true)
      expect(output.missedCompares).toBe(0)
      expect(output.leastSlackUs).toBeGreaterThan(40)
      expect(output.leastSlackUs).toBeLessThan(100)
    })

    it(`${way}: a handler that is too late is seen`, () => {
      // Later than the longest half, so that the value misses the period it is meant for.
      const { output, halves } = run(way, 2400)
      expect(output.missedCompares).toBeGreaterThan(0)
      expect(output.leastSlackUs).toBeLessThan(0)
      // 0.5 s hold about 6300 halves, every 256th of them late.
      expect(output.missedCompares).toBeLessThan(60)
      // Each miss shows in the signal, as a wrong half or as one too many of a kind.
      const pairs = halves.slice(2).filter((h, i) => h === halves[i + 1] && h === halves[i])
      expect(pairs.length > 0 || halves.some((h) => h !== ONE && h !== ZERO)).toBe(true)
    })
  }
})
