/**
 * Firmware that must not pass: the exhibition's, each made sick in one way, and small programs that are something else
 * altogether. Each is compiled here, beside a design that says what the station should be.
 */
import { spawnSync } from 'node:child_process'
import { cpSync, mkdirSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { parse, stringify } from 'yaml'
import { root } from '../contract/halfbit.js'
import { compile, toHex } from '../firmware/compile.js'

const EXHIBITION = join(root, 'examples/exhibition')

/** What the station is told: drive two locomotives, a short of 20 ms, power again, stop. Invented. */
const STIMULUS = `at 0 s volt ADC0 0.03 V
at 300 ms serial 0 "go 3 60\\nkey 3 0 on\\n"
at 500 ms serial 0 "go 1247 -35\\n"
at 1500 ms volt ADC0 0.6 V
at 1520 ms volt ADC0 0 V
at 1600 ms serial 0 "power on\\n"
at 2400 ms serial 0 "halt\\n"
`

export interface Sick {
  name: string
  /** Compiles it. @returns name of the image inside the folder. */
  build(folder: string): string
  /** Clauses that must be broken, among others that may be. */
  broken: string[]
  /** Changes of the design. */
  design?: (design: Record<string, unknown>) => void
}

/** The exhibition's firmware with some of its text replaced. */
function patched(changes: Record<string, [string, string][]>): Sick['build'] {
  return (folder) => {
    const source = join(folder, 'source')
    cpSync(join(EXHIBITION, 'firmware'), source, {
      recursive: true,
      filter: (file) => !/\.(o|elf|hex)$/.test(file),
    })
    for (const [file, list] of Object.entries(changes)) {
      let text = readFileSync(join(source, file), 'utf8')
      for (const [from, to] of list) {
        if (!text.includes(from)) throw new Error(`${file} does not hold ${from}`)
        text = text.replace(from, to)
      }
      writeFileSync(join(source, file), text)
    }
    const made = spawnSync('make', ['-s'], { cwd: source, encoding: 'utf8' })
    if (made.status !== 0) throw new Error(made.stderr)
    return 'source/station.elf'
  }
}

/** A program of its own. */
function program(text: string, mcu = 'atmega328p', hex = false): Sick['build'] {
  return (folder) => {
    const { path, bytes } = compile(folder, { text }, mcu, [`-I${join(EXHIBITION, 'firmware')}`])
    const name = hex ? 'sick.hex' : 'sick.elf'
    writeFileSync(join(folder, name), hex ? toHex(path) : bytes)
    return name
  }
}

export const HEALTHY: Sick = { name: 'healthy', build: patched({}), broken: [] }

export const SICK: readonly Sick[] = [
  {
    name: 'idle only',
    // The sender fills the time with idle packets when nobody gives it others.
    build: program(`#include "halfbit_signal.h"
#include "sender.h"
#include <avr/interrupt.h>
static struct sender track;
ISR(HALFBIT_VECTOR) { halfbit_load_bit(sender_next(&track)); }
int main(void) {
  sender_start(&track, HALFBIT_PREAMBLE);
  halfbit_start();
  sei();
  for (;;) continue;
}
`),
    broken: ['command-latency', 'short-trip'],
  },
  {
    name: 'deaf',
    build: patched({ 'main.c': [['uint8_t count = line_words(words);', 'uint8_t count = 0;']] }),
    broken: ['command-latency'],
  },
  {
    name: 'obeys the wrong address',
    build: patched({
      'main.c': [['return roster_drive(address, value);', 'return roster_drive(address + 1, value);']],
    }),
    broken: ['command-latency'],
  },
  {
    name: 'never trips',
    build: patched({ 'main.c': [['    sense_poll();\n', '    (void)sense_poll;\n']] }),
    broken: ['short-trip'],
  },
  {
    name: 'silent after 2 s',
    build: patched({
      'main.c': [
        [
          'halfbit_load_bit(sender_next(&track));',
          'static uint16_t bits; if (++bits > 14000) TCCR1B = 0; halfbit_load_bit(sender_next(&track));',
        ],
      ],
    }),
    broken: ['packet-interval'],
  },
  {
    name: 'dead pin',
    build: patched({ 'main.c': [['  halfbit_start();\n', '  (void)halfbit_start;\n']] }),
    broken: ['packet-interval'],
  },
  {
    name: 'wrong chip',
    // A HEX file does not tell what it was compiled for.
    build: program(
      `#include <avr/interrupt.h>
#include <avr/io.h>
ISR(TIMER1_COMPA_vect) {}
int main(void) {
  DDRB |= 1 << PB5;
  OCR1A = 927;
  TCCR1A = 1 << COM1A0;
  TIMSK1 = 1 << OCIE1A;
  TCCR1B = 1 << WGM12 | 1 << CS10;
  sei();
  for (;;) continue;
}
`,
      'atmega2560',
      true,
    ),
    broken: ['packet-interval'],
  },
]

/** A folder with the firmware and the design that it should meet. */
export function makeStation(folder: string, { build, design: change }: Sick): void {
  mkdirSync(folder, { recursive: true })
  const design = parse(readFileSync(join(EXHIBITION, 'halfbit.yaml'), 'utf8'))
  // What is not about the firmware only takes time.
  for (const key of ['captures', 'track', 'rollingStock', 'traffic']) delete design[key]
  design.firmware = {
    ...design.firmware,
    file: build(folder),
    stimulus: 'told.stimulus',
    runFor: '3 s',
  }
  change?.(design)
  writeFileSync(join(folder, 'told.stimulus'), STIMULUS)
  writeFileSync(join(folder, 'halfbit.yaml'), stringify(design))
}
