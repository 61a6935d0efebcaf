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

/** What the station is told: drive two locomotives, a short of 20 ms, power again, stop, power off. Invented. */
const STIMULUS = `at 0 s volt ADC0 0.03 V
at 300 ms serial 0 "go 3 60\\nkey 3 0 on\\n"
at 500 ms serial 0 "go 1247 -35\\n"
at 1500 ms volt ADC0 0.6 V
at 1520 ms volt ADC0 0 V
at 1600 ms serial 0 "power on\\n"
at 2400 ms serial 0 "halt\\n"
at 2600 ms serial 0 "power off\\n"
`

export interface Sick {
  name: string
  /** Compiles it. @returns name of the image inside the folder. */
  build(folder: string): string
  /** Clauses that must be broken, among others that may be. */
  broken: string[]
  /** Nothing else may be. */
  only?: true
  /** Output in place of the exhibition's; then there is nothing of the design but controller and signal. */
  output?: object
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

/** A program of `test/firmware`, whose signal is made by hardware and stays clean whatever the program does. */
function clean(name: string): Pick<Sick, 'build' | 'output'> {
  return {
    build(folder) {
      writeFileSync(join(folder, 'clean.elf'), compile(folder, { file: `${name}.c` }, 'atmega328p').bytes)
      return 'clean.elf'
    },
    output: { ...OUTPUT, pin: 'PB1', method: 'toggle', timer: 1, prescaler: 1 },
  }
}

const OUTPUT = { mode: 'operations', oneHalf: '58 us', zeroHalf: '100 us' }

/** Idle packets shifted out of PD1 by the serial port as SPI master, without a gap: bits of 8 us, 7 and 12 to a half. */
const BY_SPI = `#include <avr/io.h>
#include <stdint.h>
static const uint8_t packet[] = {0xff, 0xff, 0x7f, 0x80, 0x1f, 0xf0};
static uint8_t pending, count;
static void put(uint8_t level, uint8_t bits) {
  while (bits--) {
    pending = pending << 1 | level;
    if (++count < 8) continue;
    while (!(UCSR0A & 1 << UDRE0)) continue;
    UDR0 = pending;
    count = 0;
  }
}
int main(void) {
  UBRR0 = 0;
  DDRD |= 1 << PD4;
  UCSR0C = 1 << UMSEL01 | 1 << UMSEL00;
  UCSR0B = 1 << TXEN0;
  UBRR0 = 63;
  for (;;)
    for (uint8_t bit = 0; bit < 44; bit++) {
      uint8_t half = packet[bit >> 3] & (0x80 >> (bit & 7)) ? 7 : 12;
      put(1, half);
      put(0, half);
    }
}
`

export const CLEAN: Sick = { name: 'clean', ...clean('healthy'), broken: [], only: true }

export const MADE_BY_SPI: Sick = {
  name: 'made by SPI',
  build: program(BY_SPI),
  output: { ...OUTPUT, pin: 'PD1', method: 'interrupt' },
  broken: [],
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
    name: 'at another rate than its line',
    build: patched({ 'line.c': [['#define BAUD 38400UL', '#define BAUD 57600UL']] }),
    broken: ['command-latency'],
  },
  {
    name: 'obeys the wrong address',
    build: patched({
      'main.c': [['return turns_drive(address, value);', 'return turns_drive(address + 1, value);']],
    }),
    broken: ['command-latency'],
  },
  {
    name: 'never trips',
    build: patched({ 'main.c': [['    sense_poll();\n', '    (void)sense_poll;\n']] }),
    broken: ['short-trip'],
  },
  {
    name: 'switches on again into the short',
    build: patched({
      'main.c': [
        ['line_say("short\\n");', '_delay_us(200); PORTB |= (1 << ENABLE);'],
        ['#include <string.h>', '#include <string.h>\n#include <util/delay.h>'],
      ],
    }),
    broken: ['short-trip'],
    only: true,
  },
  {
    name: 'ignores power off',
    build: patched({
      'main.c': [
        [
          'else if (is(words[1], "off")) PORTB &= ~(1 << ENABLE);',
          'else if (is(words[1], "off")) return true;',
        ],
      ],
    }),
    broken: ['command-latency'],
    only: true,
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
    broken: ['instruction-set', 'command-latency'],
  },
  { name: 'stack into data', ...clean('stack-in-data'), broken: ['stack'], only: true },
  {
    name: 'restarts without a handler',
    ...clean('no-handler'),
    broken: ['interrupts', 'restart'],
    only: true,
  },
  { name: 'illegal instructions', ...clean('illegal'), broken: ['instruction-set'], only: true },
  { name: 'lost interrupts', ...clean('lost-interrupts'), broken: ['interrupts'], only: true },
]

/** A folder with the firmware and the design that it should meet. */
export function makeStation(folder: string, { build, output }: Sick): void {
  mkdirSync(folder, { recursive: true })
  const design = parse(readFileSync(join(EXHIBITION, 'halfbit.yaml'), 'utf8'))
  // They change parts of the design that are taken out here.
  delete design.variants
  // What is not about the firmware only takes time.
  for (const key of ['captures', 'track', 'rollingStock']) delete design[key]
  design.traffic = { link: design.traffic.link }
  // Without its track the design has to say itself what the wires carry.
  for (const district of Object.values<Record<string, unknown>>(design.power.districts))
    district.load = { running: '1 A', thinnestWire: '1.5 mm2' }
  const file = build(folder)
  if (output) {
    for (const key of ['power', 'fleet', 'traffic']) delete design[key]
    design.controller.reservedPins = []
    design.signal.outputs = { main: output }
    // A serial port that is switched on holds its pin high until the first byte.
    design.firmware = { file, runFor: '1 s', skip: '1 ms' }
  } else design.firmware = { ...design.firmware, file, stimulus: 'told.stimulus', runFor: '3 s' }
  writeFileSync(join(folder, 'told.stimulus'), STIMULUS)
  writeFileSync(join(folder, 'halfbit.yaml'), stringify(design))
}
