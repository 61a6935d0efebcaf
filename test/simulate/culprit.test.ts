// A late signal names what made it late, down to the source line where the compiler wrote line tables.
import { spawnSync } from 'node:child_process'
import { describe, expect, it } from 'vitest'
import {
  loadFirmware,
  placeInWords,
  reportOf,
  SimulatedController,
  whoWasLate,
  withCulprits,
} from '../../src/controller/index.js'
import { judgeSignal, SignalReader } from '../../src/signal/index.js'
import { profileOf } from '../../src/standard/index.js'
import { compile, HAVE_COMPILER, workFolder } from '../firmware/compile.js'

const HZ = 16e6
const folder = workFolder()
const profile = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })

/** A pin written by an interrupt, so that each delay of it moves an edge. */
const HEAD = `#include <avr/interrupt.h>
#include <avr/io.h>
#include <util/delay.h>
#include <stdint.h>
static uint8_t k;
ISR(TIMER1_COMPA_vect) {
  PINB = 1 << PB1;
  uint8_t bit = ++k >> 1;
  OCR1A = (bit % 44 < 20 || bit & 1) ? 927 : 1599;
}
`
const START = 'DDRB = 1 << PB1; OCR1A = 927; TIMSK1 = 1 << OCIE1A; TCCR1B = 1 << WGM12 | 1 << CS10;'

function run(text: string, flags: string[]) {
  const { path, bytes } = compile(folder, { text }, 'atmega328p', flags)
  const machine = new SimulatedController('atmega328p', HZ, loadFirmware(bytes, 'late.elf'))
  const reader = new SignalReader({ tickUs: 1 / 16, resolutionUs: 0 }, { mode: 'operations' })
  const recorder = machine.record(reader, 'PB1')
  machine.runTo(2 * HZ)
  const report = reportOf(machine, [{ name: 'main', pin: 'PB1', recorder }])
  const about = { origin: 'simulated', source: 'test', about: 'main', probe: 'logic' } as const
  const statements = withCulprits(judgeSignal(reader.finish(2 * HZ), profile, about), report)
  return { path, report, statements }
}

describe.skipIf(!HAVE_COMPILER)('what made an edge late', () => {
  const CLI = `${HEAD}
void read_sensor(void) __attribute__((noinline));
void read_sensor(void) {
  cli(); /* the culprit */
  _delay_us(31);
  sei();
}
int main(void) { ${START} sei(); for (;;) { _delay_ms(7); read_sensor(); } }`

  for (const dwarf of ['-gdwarf-2', '-gdwarf-3', '-gdwarf-4', '-gdwarf-5']) {
    it(`is named with file and line (${dwarf}): interrupts turned off`, () => {
      const { statements, report } = run(CLI, [dwarf])
      const late = statements.find((e) => e.clause === 'one-half')!
      expect(late.verdict).toBe('broken')
      const line = CLI.split('\n').findIndex((l) => l.includes('the culprit')) + 1
      expect(late.because).toMatch(
        /TIMER1_COMPA began \d+[\d.]* us after its cause at [\d.]+ m?s, because interrupts were turned off in read_sensor/,
      )
      expect(late.because).toContain(`(<stdin>:${line})`)
      const culprit = whoWasLate(report, report.outputs[0]!, late.where!.timeUs!)!
      expect([culprit.place.line, culprit.late, culprit.interrupt]).toEqual([line, 'TIMER1_COMPA', undefined])
      // The delay of 31 us, less what had passed of the half before.
      expect(culprit.lateUs).toBeLessThan(33)
    })
  }

  it('is named with function and offset where there are no line tables', () => {
    const { statements } = run(CLI, [])
    expect(statements.find((e) => e.clause === 'one-half')!.because).toMatch(
      /turned off in read_sensor(\+0x[0-9a-f]+)?$/,
    )
  })

  it('is the handler of another interrupt', () => {
    const { statements } = run(
      `${HEAD}
ISR(TIMER0_OVF_vect) { _delay_us(25); }
int main(void) { ${START} TCCR0B = 3; TIMSK0 = 1; sei(); for (;;) ; }`,
      ['-gdwarf-4'],
    )
    const late = statements.find((e) => e.clause === 'one-half')!
    expect(late.verdict).toBe('broken')
    expect(late.because).toMatch(/because the handler of TIMER0_OVF ran \(__vector_16 \(<stdin>:12\)\)/)
  })

  it('is the handler that held up a main program which writes the pin itself', () => {
    const { statements } = run(
      `${HEAD.replace('PINB = 1 << PB1;', '')}
ISR(TIMER0_OVF_vect) { _delay_us(20); }
int main(void) { DDRB = 2; TCCR0B = 3; TIMSK0 = 1; sei();
  for (;;) for (uint8_t i = 0; i < 44; i++) { uint8_t one = i < 20 || (i & 1); for (uint8_t h = 0; h < 2; h++) { PINB = 2; if (one) _delay_us(57.5); else _delay_us(99.5); } } }`,
      ['-gdwarf-4'],
    )
    const late = statements.find((e) => e.verdict === 'broken' && e.because.includes('held the main'))!
    expect(late.because).toMatch(
      /the handler of TIMER0_OVF \(__vector_16 .*\) held the main program up for 2\d[\d.]* us/,
    )
  })
})

describe.skipIf(!HAVE_COMPILER)('places in a program', () => {
  it('are those that the compiler’s own tool gives', () => {
    const { path, bytes } = compile(folder, { file: 'healthy.c' }, 'atmega328p', ['-gdwarf-4'])
    const { lines, flash } = loadFirmware(bytes, 'healthy.elf')
    expect(lines).toBeDefined()
    const addresses = Array.from({ length: flash[0]!.bytes.length / 2 }, (_, i) => 2 * i)
    const tool = spawnSync(
      'avr-addr2line',
      ['-s', '-e', path, ...addresses.map((a) => `0x${a.toString(16)}`)],
      { encoding: 'utf8' },
    )
    const theirs = tool.stdout
      .trim()
      .split('\n')
      .map((l) => l.replace(/ \(discriminator \d+\)/, ''))
    let known = 0
    addresses.forEach((address, i) => {
      if (!/:\d+$/.test(theirs[i]!)) return
      known++
      const { file, line } = placeOfAddress(lines!, address)
      expect([address, `${file}:${line}`]).toEqual([address, theirs[i]])
    })
    expect(known).toBeGreaterThan(40)
    expect(placeInWords({ address: 0x1a4 })).toBe('address 0x01a4')
  })
})

function placeOfAddress(table: NonNullable<ReturnType<typeof loadFirmware>['lines']>, address: number) {
  let row = -1
  table.addresses.forEach((a, i) => {
    if (a <= address) row = i
  })
  return { file: table.files[table.fileOf[row]!], line: table.lines[row] }
}
