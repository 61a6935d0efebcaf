// Values of several bytes that an interrupt and the program share. The C standard makes no access to a volatile of two
// bytes atomic on a machine of eight bits; avr-libc's manual names the fault and ATOMIC_BLOCK as its remedy.
import { describe, expect, it } from 'vitest'
import { firmwareEvidence, loadFirmware, reportOf, SimulatedController } from '../../src/controller/index.js'
import { profileOf } from '../../src/standard/index.js'
import { compile, HAVE_COMPILER, toHex, workFolder } from '../firmware/compile.js'

const HZ = 16e6
const folder = workFolder()
const profile = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })

function judged(code: string, hex = false, skipWaiting = true) {
  const text = `#include <avr/interrupt.h>\n#include <avr/io.h>\n#include <util/atomic.h>\n#include <util/delay.h>\n#include <stdint.h>\n${code}`
  const { path, bytes } = compile(folder, { text }, 'atmega328p')
  const machine = new SimulatedController('atmega328p', HZ, loadFirmware(hex ? toHex(path) : bytes, 'x'), {
    skipWaiting,
  })
  machine.runTo(HZ)
  const report = reportOf(machine)
  return {
    report,
    machine,
    statement: firmwareEvidence(report, { profile }).find((e) => e.clause === 'shared-data')!,
  }
}

/** Timer 0 interrupts every `top + 1` cycles. */
const timer = (top: number) => `OCR0A = ${top}; TCCR0A = 1 << WGM01; TCCR0B = 1; TIMSK0 = 1 << OCIE0A; sei();`
const TICK = 'ISR(TIMER0_COMPA_vect) { ticks++; }'

describe.skipIf(!HAVE_COMPILER)('a value of several bytes', () => {
  for (const type of ['uint16_t', 'uint32_t']) {
    it(`(${type}) that an interrupt counts is torn when the program reads it bare`, () => {
      const { statement, report } = judged(
        `volatile ${type} ticks; volatile ${type} seen; ${TICK}
         void watch(void) __attribute__((noinline)); void watch(void) { seen = ticks; }
         int main(void) { ${timer(211)} for (;;) watch(); }`,
      )
      expect(statement.verdict).toBe('broken')
      expect(statement.because).toMatch(
        /TIMER0_COMPA writes ticks \(\d bytes\) in __vector_14\+0x[0-9a-f]+ while the program reads it in watch.*: seen \d+ times/,
      )
      expect(report.sharedData.map((r) => r.variable)).toEqual(['ticks'])
    })
  }

  it('is torn behind a conversion that the handler starts', () => {
    const { statement } = judged(
      `volatile uint16_t ticks, seen; ISR(TIMER0_COMPA_vect) { ADCSRA = 0xC7; ticks++; }
       int main(void) { ${timer(206)} for (;;) { seen = ticks; __asm__ volatile ("nop"); } }`,
    )
    // 77,294 interrupts, each at one of eleven cycles of the loop: one place of them lies between the two loads.
    expect(Number(/seen (\d+) times/.exec(statement.because)?.[1])).toBeGreaterThan(5000)
    expect(statement.verdict).toBe('broken')
  })

  it('is torn too when the program writes it bare and the interrupt only reads it', () => {
    const { statement } = judged(
      `volatile uint16_t limit; volatile uint8_t out; ISR(TIMER0_COMPA_vect) { if (limit > 300) out++; }
       int main(void) { ${timer(199)} for (uint16_t i = 0;; i++) limit = i; }`,
    )
    expect(statement.verdict).toBe('broken')
    expect(statement.because).toMatch(/TIMER0_COMPA reads limit .* while the program writes it in main/)
  })

  it('is torn through a pointer as well', () => {
    const { statement } = judged(
      `struct { uint8_t a; uint16_t n; uint8_t b[2]; } volatile s; volatile uint16_t seen; ISR(TIMER0_COMPA_vect) { s.n++; }
       uint16_t get(volatile void *p) __attribute__((noinline)); uint16_t get(volatile void *p) { return *(volatile uint16_t *)((volatile uint8_t *)p + 1) + 1; }
       int main(void) { ${timer(203)} for (;;) seen = get(&s); }`,
    )
    expect(statement.verdict).toBe('broken')
    expect(statement.because).toMatch(/TIMER0_COMPA writes s\+1/)
  })

  it('is safe inside ATOMIC_BLOCK, behind CLI, or read twice until both are alike', () => {
    for (const body of [
      'uint16_t t; ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { t = ticks; } seen = t;',
      'cli(); uint16_t t = ticks; sei(); seen = t;',
      'uint16_t a, b; do { a = ticks; b = ticks; } while (a != b); seen = a;',
    ]) {
      const { statement } = judged(
        `volatile uint16_t ticks, seen; ${TICK} int main(void) { ${timer(211)} for (;;) { ${body} } }`,
      )
      expect([body, statement.verdict, statement.because]).toEqual([body, 'met', expect.anything()])
    }
  })

  it('read bare, though no interrupt comes between in this run, is undecided, not met', () => {
    const { statement } = judged(
      `volatile uint16_t ticks, seen; ISR(TIMER1_OVF_vect) { ticks++; }
       int main(void) { TCCR1B = 4; TIMSK1 = 1; sei(); for (;;) { _delay_ms(400); seen = ticks; } }`,
    )
    expect(statement.verdict).toBe('undecided')
    expect(statement.because).toMatch(
      /reads ticks \(2 bytes\) in main.*with interrupts on, and TIMER1_OVF writes it/,
    )
  })

  it('needs no care before interrupts are on, nor when the interrupt never writes', () => {
    for (const code of [
      `volatile uint16_t ticks = 5; ${TICK} int main(void) { ticks = 7; ${timer(250)} for (;;) ; }`,
      `volatile uint16_t limit, seen; volatile uint8_t out; ISR(TIMER0_COMPA_vect) { out = limit; } int main(void) { ${timer(211)} for (;;) seen = limit; }`,
    ]) {
      expect(judged(code).statement.verdict).toBe('met')
    }
  })

  it('of a HEX file is told by how its bytes are used; two neighbours of one byte each are no value', () => {
    const torn = `volatile uint16_t ticks; volatile uint8_t out; ${TICK} int main(void) { ${timer(211)} for (;;) if (ticks > 1000) out++; }`
    expect(judged(torn, true).statement.verdict).toBe('broken')
    const ring = `volatile uint8_t head, tail; volatile uint8_t out; ISR(TIMER0_COMPA_vect) { head = (head + 1) & 15; }
      int main(void) { ${timer(211)} for (;;) if (head != tail) tail = (tail + 1) & 15; }`
    expect(judged(ring, false).statement.verdict).toBe('met')
    expect(judged(ring, true).statement.verdict).not.toBe('broken')
  })

  it('is watched without changing the run', () => {
    const code = `volatile uint16_t ticks, seen; ${TICK} int main(void) { ${timer(211)} for (;;) seen = ticks; }`
    const fast = judged(code).machine
    const slow = judged(code, false, false).machine
    expect([fast.core.pc, fast.now, [...fast.data.subarray(0x100, 0x110)]]).toEqual([
      slow.core.pc,
      slow.now,
      [...slow.data.subarray(0x100, 0x110)],
    ])
  })
})
