/**
 * Firmware that does not belong to the design: built for another chip, on another pin, silent, or without its interrupts
 * switched on. Each is compiled by the real compiler; the command and the proof say which it is.
 */
import { copyFileSync, mkdirSync, mkdtempSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { describe, expect, it } from 'vitest'
import { halfbitHere } from '../contract/here.js'
import { compile, HAVE_COMPILER, toHex, workFolder } from '../firmware/compile.js'

const folder = workFolder()
const chip = ['--chip', 'atmega328p', '--clock', '16 MHz', '--for', '300 ms']

/** Timer 1 toggles a pin by itself, in hardware. */
const onPin = (ddr: string, com: string) => `
#include <avr/io.h>
int main(void) { DDRB |= ${ddr}; OCR1A = 927; TCCR1A = ${com}; TCCR1B = 1 << WGM12 | 1 << CS10; for (;;) ; }`

/** A sound program but for its last line: nothing lets the interrupts through that would make the edges. */
const DEAF = `
#include <avr/interrupt.h>
#include <avr/io.h>
ISR(TIMER1_COMPA_vect) { PINB = 1 << 2; }
int main(void) { DDRB = 1 << 2; OCR1A = 927; TCCR1B = 1 << WGM12 | 1 << CS10; TIMSK1 = 1 << OCIE1A; for (;;) ; }`

/** Uses registers and addresses of the large chip, as any program built for it does. */
const LARGE = `
#include <avr/interrupt.h>
#include <avr/io.h>
ISR(TIMER5_COMPA_vect) { PINB = 1 << 2; }
static volatile unsigned char far_away[4096];
int main(void) {
  for (unsigned i = 0; i < sizeof far_away; i++) far_away[i] = i;
  DDRB = 1 << 2; OCR5A = 927; TCCR5B = 1 << WGM52 | 1 << CS50; TIMSK5 = 1 << OCIE5A; sei(); for (;;) ;
}`

async function simulated(text: string, mcu = 'atmega328p') {
  const { path } = compile(folder, { text }, mcu)
  const ran = await halfbitHere(['simulate', path, ...chip, '--pin', 'PB2'])
  return { ...ran, said: `${ran.stdout}\n${ran.stderr}`.replace(/\s+/g, ' ') }
}

describe.skipIf(!HAVE_COMPILER)('firmware that does not belong to the design', () => {
  it('on another pin: the pins that did move are named', async () => {
    const { said, status } = await simulated(onPin('1 << 1', '1 << COM1A0'))
    expect(said).toMatch(/never moved PB2; it moved PB1/)
    expect(status).not.toBe(0)
  })

  it('silent: no pin moved at all', async () => {
    const { said, status } = await simulated('int main(void) { for (;;) ; }')
    expect(said).toMatch(/never moved PB2; it moved no pin at all/)
    expect(status).not.toBe(0)
  })

  it('without its interrupts switched on: that is said', async () => {
    const { said, status } = await simulated(DEAF)
    expect(said).toMatch(/never moved PB2/)
    expect(said).toMatch(/never switched interrupts on \(sei\)/)
    expect(status).not.toBe(0)
  })

  it('an ELF of another family: refused before it runs', async () => {
    const { said, status } = await simulated(LARGE, 'atmega2560')
    expect(said).toMatch(/compiled for family avr6; the ATmega328P runs avr5/)
    expect(status).toBe(2)
  })

  it('a HEX file of another chip, which names none: what it executes or reaches is not there', async () => {
    const hex = join(folder, 'large.hex')
    writeFileSync(hex, toHex(compile(folder, { text: LARGE }, 'atmega2560').path))
    const ran = await halfbitHere(['simulate', hex, ...chip, '--pin', 'PB2'])
    const said = `${ran.stdout} ${ran.stderr}`.replace(/\s+/g, ' ')
    expect(said).toMatch(/BROKEN instruction-set/)
    expect(said).toMatch(/never moved PB2/)
    expect(ran.status).toBe(1)
  })

  it('the proof of the design says it too, and nothing of the signal counts as met by the run', async () => {
    const at = mkdtempSync(join(tmpdir(), 'halfbit-wrong-'))
    expect((await halfbitHere(['new', at])).status).toBe(0)
    mkdirSync(join(at, 'firmware'))
    const { path } = compile(folder, { text: onPin('1 << 1', '1 << COM1A0') }, 'atmega328p')
    copyFileSync(path, join(at, 'firmware/station.elf'))
    const ran = await halfbitHere([
      'prove',
      join(at, 'halfbit.yaml'),
      '--firmware',
      join(at, 'firmware/station.elf'),
      '--json',
    ])
    const { rows } = JSON.parse(ran.stdout) as {
      rows: { clause: string; cells: Record<string, { verdict: string } | undefined> }[]
    }
    for (const clause of ['one-half', 'packet-interval', 'refresh'])
      expect(rows.find((r) => r.clause === clause)?.cells['simulated']?.verdict ?? 'not shown').not.toBe(
        'met',
      )
    expect(ran.stdout).toMatch(/never moved PB2; it moved PB1/)
  })
})
