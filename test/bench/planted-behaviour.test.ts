// More firmware with one fault each, in what a station does: with commands, at full load, and while something else happens.
import { describe, expect, it } from 'vitest'
import { HAVE_COMPILER } from '../firmware/compile.js'
import { planted, run } from './planted.js'

describe.runIf(HAVE_COMPILER)('a station is caught that', () => {
  it.each<[string, string, string, string, [string, string, string][]]>([
    [
      'stops watching the current for a second when power is switched on',
      'exhibition',
      'short in main',
      'bench/short-on-again',
      [
        [
          'main.c',
          '  if (over < TRIP_READINGS) return;',
          '  if (blind) { blind--; over = 0; }\n  if (over < TRIP_READINGS) return;',
        ],
        [
          'main.c',
          'static void sense_poll(void) {',
          'static uint16_t blind;\nstatic void sense_poll(void) {',
        ],
        [
          'main.c',
          'if (is(words[1], "on")) PORTB |= (1 << ENABLE);',
          'if (is(words[1], "on")) PORTB |= (1 << ENABLE), blind = 10000;',
        ],
      ],
    ],
    [
      'waits for the rest of a command and watches nothing',
      'exhibition',
      'short in main, strongest place',
      'bench/short-late',
      [
        [
          'line.c',
          'uint8_t line_words(char *words[LINE_WORDS]) {\n  while (tail != head) {',
          'uint8_t line_words(char *words[LINE_WORDS]) {\n  extern void feed(void);\n  while (tail != head || length) {\n    while (tail == head) feed();',
        ],
        ['main.c', 'static void feed(void) {', 'void feed(void) {'],
      ],
    ],
    [
      'trips at the planned load',
      'exhibition',
      'every locomotive starts at once',
      'bench/trips-at-start',
      [['main.c', 'TRIP_COUNTS 326', 'TRIP_COUNTS 190']],
    ],
    [
      'ignores an emergency stop',
      'exhibition',
      'heaviest traffic',
      'bench/never-acted',
      [
        ['turns.c', '    locos[i].speed = 0;\n    locos[i].halted = true;', '    ;'],
        ['turns.c', 'halts = HALT_REPEATS;', 'halts = 0;'],
      ],
    ],
    [
      'forgets an emergency stop at the next refresh',
      'exhibition',
      'heaviest traffic',
      'bench/moves-uncommanded',
      [['turns.c', '    locos[i].speed = 0;\n    locos[i].halted = true;', '    ;']],
    ],
    [
      'ignores an emergency stop while track power is off',
      'exhibition',
      'stop during a short',
      'bench/moves-uncommanded',
      [
        [
          'main.c',
          'if (count == 1 && is(words[0], "halt")) {',
          'if (count == 1 && is(words[0], "halt") && (PINB & (1 << ENABLE))) {',
        ],
      ],
    ],
    [
      'refreshes one locomotive no more after a trip',
      'exhibition',
      'stop during a short',
      'bench/clause-of-run',
      [
        [
          'turns.c',
          '    if (l->address == 0 || l->address == last_address) continue;\n    uint8_t subject = TURNS',
          '    extern volatile uint8_t tripped;\n    if (l->address == 0 || l->address == last_address || (tripped && l->address == 60)) continue;\n    uint8_t subject = TURNS',
        ],
        ['main.c', 'static struct sender track;', 'static struct sender track;\nvolatile uint8_t tripped;'],
        ['main.c', 'line_say("short\\n");', 'line_say("short\\n"); tripped = 1;'],
      ],
    ],
    [
      'loses the commands that come in after a trip',
      'exhibition',
      'short in main',
      'bench/power-stays-off',
      [
        [
          'line.c',
          'void line_say(const char *text_out) {',
          'void line_drop(void) { tail = head; length = 0; }\nvoid line_say(const char *text_out) {',
        ],
        [
          'main.c',
          'line_say("short\\n");',
          'line_say("short\\n");\n  for (uint32_t n = 0; n < 200000; n++) { extern void line_drop(void); line_drop(); feed(); wdt_reset(); }',
        ],
        [
          'main.c',
          'static void sense_poll(void) {',
          'static void feed(void);\nstatic void sense_poll(void) {',
        ],
      ],
    ],
    [
      'adds up all readings above the threshold, not those in a row',
      'exhibition',
      'every locomotive starts at once',
      'bench/trips-at-start',
      [['main.c', '? over + 1 : 0', '? over + 1 : over']],
    ],
    [
      'sends a shorter preamble after a trip, which decoders still hear',
      'exhibition',
      'short in main',
      'bench/clause-of-run',
      [['main.c', 'line_say("short\\n");', 'line_say("short\\n");\n  track.preamble = 12;']],
    ],
    [
      'switches track power on with a speed command',
      'exhibition',
      'short in main',
      'bench/power-off-ignored',
      [
        [
          'main.c',
          'if (count == 3 && is(words[0], "go")) return',
          'if (count == 3 && is(words[0], "go")) PORTB |= (1 << ENABLE);\n  if (count == 3 && is(words[0], "go")) return',
        ],
      ],
    ],
    [
      'clears functions with an emergency stop',
      'exhibition',
      'heaviest traffic',
      'bench/clause-of-run',
      [
        [
          'turns.c',
          '    locos[i].halted = true;',
          '    locos[i].halted = true;\n    locos[i].functions = 0;',
        ],
      ],
    ],
    [
      'cannot switch the service track on again after an overload',
      'two-tracks',
      'short in programming',
      'bench/power-stays-off',
      [
        [
          'service.c',
          '  watching = ended = acknowledged = overloaded = false;',
          '  watching = ended = acknowledged = false;',
        ],
      ],
    ],
    [
      'sends one speed step less',
      'exhibition',
      'heaviest traffic',
      'bench/speed-uncommanded',
      [['turns.c', 'step == 0 ? 0 : step + 1', 'step == 0 ? 0 : step']],
    ],
    [
      'never drives in reverse',
      'exhibition',
      'heaviest traffic',
      'bench/speed-uncommanded',
      [['turns.c', 'l->backward = speed < 0', 'l->backward = false']],
    ],
    [
      'swaps two functions',
      'exhibition',
      'heaviest traffic',
      'bench/switches-uncommanded',
      [['turns.c', '((f >> 1) & 0x0F)', '(((f >> 1) & 3) | (((f >> 3) & 1) << 3) | (((f >> 4) & 1) << 2))']],
    ],
    [
      'switches another function with the first',
      'exhibition',
      'heaviest traffic',
      'bench/switches-uncommanded',
      [['turns.c', '((f >> 1) & 0x0F)', '((f >> 1) & 0x0F) | (f & 2)']],
    ],
    [
      'moves a second train with the first',
      'exhibition',
      'heaviest traffic',
      'bench/speed-uncommanded',
      [
        [
          'turns.c',
          '  l->halted = false;\n',
          '  l->halted = false;\n  if (address == 3 && find(60)) { find(60)->speed = speed; find(60)->urgent[SPEED] = REPEATS; }\n',
        ],
      ],
    ],
    [
      'sends a long address as a short one',
      'exhibition',
      'heaviest traffic',
      'bench/never-acted',
      [['packet.h', 'address > 127', 'address > 20000']],
    ],
    [
      'has power on the rails before packets, at power-up only',
      'exhibition',
      'heaviest traffic',
      'bench/moves-uncommanded',
      [
        [
          'main.c',
          'int main(void) {',
          'int main(void) {\n  if (MCUSR & (1 << PORF)) {\n    DDRB |= (1 << ENABLE);\n    PORTB |= (1 << ENABLE);\n    for (uint32_t i = 0; i < 100000; i++) __asm__ volatile("nop\\nnop\\nnop\\nnop\\nnop\\nnop\\nnop\\nnop");\n  }\n  MCUSR = 0;',
        ],
      ],
    ],
    [
      'waits for its watchdog with track power on',
      'exhibition',
      'controller restarts under way',
      'bench/moves-after-restart',
      [
        ['main.c', '#include <string.h>', '#include <string.h>\n#include <avr/wdt.h>'],
        [
          'main.c',
          'int main(void) {',
          'int main(void) {\n  uint8_t why = MCUSR;\n  MCUSR = 0;\n  wdt_disable();\n  if (why & (1 << EXTRF)) {\n    DDRB |= (1 << ENABLE);\n    PORTB |= (1 << ENABLE);\n    wdt_enable(WDTO_500MS);\n    for (;;) {}\n  }',
        ],
      ],
    ],
    [
      'never trips on the service track',
      'two-tracks',
      'short in programming',
      'bench/short-stays-on',
      [['service.c', 'if (over >= OVERLOAD_READINGS) overloaded = true;', '']],
    ],
    [
      'trips too slowly on the service track',
      'two-tracks',
      'short in programming',
      'bench/short-late',
      [['service.c', 'OVERLOAD_READINGS 930', 'OVERLOAD_READINGS 3000']],
    ],
    [
      'takes every write for acknowledged',
      'two-tracks',
      'CV on programming',
      'bench/answer-wrong',
      [['service.c', 'return acknowledged ?', 'return acknowledged || writing ?']],
    ],
    [
      'answers from memory',
      'two-tracks',
      'CV on programming',
      'bench/answer-wrong',
      [
        [
          'service.c',
          'return acknowledged ? SERVICE',
          'static uint8_t last;\n  if (writing) last = instruction.bytes[2];\n  return writing || last == instruction.bytes[2] ? SERVICE',
        ],
      ],
    ],
    [
      'measures from no base',
      'two-tracks',
      'CV on programming',
      'bench/answer-wrong',
      [
        ['service.c', '    base = smooth;\n    return;', '    base = 0;\n    return;'],
        ['service.c', 'ACK_MILLIAMPERE 40', 'ACK_MILLIAMPERE 8'],
      ],
    ],
    [
      'writes a CV twice',
      'two-tracks',
      'CV on programming',
      'bench/cv-written-beside',
      [
        [
          'service.c',
          '    case RECOVER:\n',
          '    case RECOVER:\n      if (!again && writing) {\n        again = true;\n        step = BEFORE;\n        left = RESETS_BEFORE;\n        break;\n      }\n      again = false;\n',
        ],
        ['service.c', 'static bool writing;', 'static bool writing, again;'],
      ],
    ],
    [
      'writes CV29 with every other CV',
      'two-tracks',
      'CV on programming',
      'bench/cv-written-beside',
      [
        [
          'service.c',
          '    case RECOVER:\n',
          '    case RECOVER:\n      if (!again && writing) {\n        again = true;\n        step = BEFORE;\n        left = RESETS_BEFORE;\n        packet_begin(&instruction);\n        packet_add(&instruction, 0x7C);\n        packet_add(&instruction, 28);\n        packet_add(&instruction, 6);\n        packet_end(&instruction);\n        break;\n      }\n      again = false;\n',
        ],
        ['service.c', 'static bool writing;', 'static bool writing, again;'],
      ],
    ],
    [
      'verifies with two packets',
      'two-tracks',
      'CV on programming',
      'bench/clause-of-run',
      [['service.c', '#define INSTRUCTIONS 5', '#define INSTRUCTIONS 2']],
    ],
  ])('%s', (_, example, scenario, code, changes) => {
    const [result] = run(example, [scenario], planted(example, changes))
    const broken = result!.outcomes.filter((o) => o.verdict === 'broken').map((o) => o.finding.code)
    expect(broken).toContain(code)
  })
})
