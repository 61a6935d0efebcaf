// More firmware with one fault each: in words of its language that are seldom said, in the service track, and when it hangs.
import { describe, expect, it } from 'vitest'
import { compile, HAVE_COMPILER, workFolder } from '../firmware/compile.js'
import { codes, planted, run, verdicts } from './planted.js'

const SHORT = 'short in main'
const BUSY = 'heaviest traffic'
const CV = 'CV on programming'
const HANG = 'program hangs under way'

/** The exhibition's main loop without its watchdog. */
const NO_WATCHDOG: [string, string, string][] = [['main.c', '  wdt_enable(WDTO_250MS);', '']]

describe.runIf(HAVE_COMPILER)('a station is caught that', () => {
  it.each<[string, string, string, string, [string, string, string][]]>([
    [
      'measures against another reference once a function has been switched',
      'exhibition',
      SHORT,
      'bench/short-stays-on',
      [
        [
          'main.c',
          '    if (is(words[3], "on")) return turns_key',
          '    ADMUX = (1 << REFS0);\n    if (is(words[3], "on")) return turns_key',
        ],
      ],
    ],
    [
      'measures against another reference after an emergency stop',
      'exhibition',
      SHORT,
      'bench/short-stays-on',
      [['main.c', '    turns_halt();', '    turns_halt();\n    ADMUX = (1 << REFS0);']],
    ],
    [
      'leaves its converter off after power was off',
      'exhibition',
      SHORT,
      'bench/short-stays-on',
      [
        [
          'main.c',
          'else if (is(words[1], "off")) PORTB &= ~(1 << ENABLE);',
          'else if (is(words[1], "off")) PORTB &= ~(1 << ENABLE), ADCSRA = 0;',
        ],
      ],
    ],
    [
      'changes the channel of its converter between two readings and takes the one for the other',
      'exhibition',
      SHORT,
      'bench/short-stays-on',
      [['main.c', '  over = ADC > TRIP_COUNTS', '  ADMUX ^= 1;\n  over = ADC > TRIP_COUNTS']],
    ],
    [
      'reads the current between packets only',
      'exhibition',
      SHORT,
      'bench/short-late',
      [
        ['main.c', '    sender_commit(&track);', '    sender_commit(&track);\n    sense_poll();'],
        ['main.c', '    feed();\n    sense_poll();\n', '    feed();\n'],
      ],
    ],
    [
      'tries again 3 ms after each trip, for as long as the short lasts',
      'exhibition',
      SHORT,
      'bench/short-on-again',
      [
        [
          'main.c',
          'static void sense_poll(void) {\n',
          'static void sense_poll(void) {\n  static uint8_t wait;\n  if ((ADCSRA & (1 << ADIF)) && wait && --wait == 0) PORTB |= (1 << ENABLE);\n',
        ],
        ['main.c', 'line_say("short\\n");', 'wait = 29;'],
      ],
    ],
    [
      'answers "power off" and leaves power on',
      'exhibition',
      SHORT,
      'bench/power-off-ignored',
      [['main.c', 'PORTB &= ~(1 << ENABLE);\n    else return false;', '{}\n    else return false;']],
    ],
    [
      'stops the signal in place of power',
      'exhibition',
      SHORT,
      'bench/power-off-ignored',
      [
        [
          'main.c',
          'else if (is(words[1], "off")) PORTB &= ~(1 << ENABLE);',
          'else if (is(words[1], "off")) TIMSK1 = 0;',
        ],
      ],
    ],
    [
      'drives a train when power is switched on',
      'exhibition',
      'stop during a short',
      'bench/moves-uncommanded',
      [
        [
          'main.c',
          'if (is(words[1], "on")) PORTB |= (1 << ENABLE);',
          'if (is(words[1], "on")) PORTB |= (1 << ENABLE), turns_drive(3, 40);',
        ],
      ],
    ],
    [
      'writes a command beyond its buffer',
      'exhibition',
      BUSY,
      'bench/clause-of-run',
      [
        [
          'line.c',
          '      if (length < sizeof text - 1) text[length++] = c;\n      else overlong = true;',
          '      text[length++] = c;',
        ],
      ],
    ],
    [
      'waits for ever where it refuses a command',
      'exhibition',
      BUSY,
      'bench/clause-of-run',
      [['line.c', 'line_say("no\\n");', 'for (;;) continue;']],
    ],
    [
      'forgets every locomotive with one',
      'exhibition',
      BUSY,
      'bench/clause-of-run',
      [
        [
          'turns.c',
          '  l->address = 0;\n',
          '  for (l = locos; l < locos + TURNS_MOST; l++) l->address = 0;\n',
        ],
      ],
    ],
    [
      'drives every locomotive where address 0 is commanded',
      'exhibition',
      BUSY,
      'bench/speed-uncommanded',
      [
        [
          'turns.c',
          '  struct loco *l = find_or_add(address);\n  if (!l) return false;\n  if (speed',
          '  if (address == 0)\n    for (uint8_t i = 0; i < TURNS_MOST; i++) locos[i].speed = speed, locos[i].urgent[SPEED] = REPEATS;\n  struct loco *l = find_or_add(address);\n  if (!l) return false;\n  if (speed',
        ],
      ],
    ],
    [
      'turns the lowest step round',
      'exhibition',
      BUSY,
      'bench/speed-uncommanded',
      [['turns.c', '(l->backward ? 0 : 0x80)', '((step == 1 ? !l->backward : l->backward) ? 0 : 0x80)']],
    ],
    [
      'puts the lowest bit of 28 steps in the wrong place',
      'exhibition',
      BUSY,
      'bench/speed-uncommanded',
      [
        [
          'turns.c',
          '      packet_add(p, 0x3F);\n      packet_add(p, speed_byte(l));',
          '      ;\n      uint8_t code = speed_byte(l) & 0x7F;\n      packet_add(p, 0x40 | (l->backward ? 0 : 0x20) | (code < 2 ? code : 4 + (code - 2) * 2 / 9));',
        ],
      ],
    ],
    [
      'sends 14 steps to decoders that read 28',
      'exhibition',
      BUSY,
      'bench/speed-uncommanded',
      [
        [
          'turns.c',
          '      packet_add(p, 0x3F);\n      packet_add(p, speed_byte(l));',
          '      ;\n      uint8_t code = speed_byte(l) & 0x7F;\n      packet_add(p, 0x40 | (l->backward ? 0 : 0x20) | ((f & 1) << 4) | (code < 2 ? code : 2 + (code - 2) / 9));',
        ],
      ],
    ],
    [
      'stops only the locomotive commanded last',
      'exhibition',
      BUSY,
      'bench/never-acted',
      [
        [
          'turns.c',
          '  halts = HALT_REPEATS;',
          '  extern struct loco *latest;\n  if (latest) latest->speed = 0, latest->halted = true;\n  return;',
        ],
        ['turns.c', 'void turns_start', 'struct loco *latest;\nvoid turns_start'],
        ['turns.c', '  l->halted = false;\n', '  l->halted = false;\n  latest = l;\n'],
      ],
    ],
    [
      'sends light off with each refresh',
      'exhibition',
      BUSY,
      'bench/switches-uncommanded',
      [
        [
          'turns.c',
          '    tell(l, subject, p);\n    return true;\n  }\n  return false;\n}\n\nvoid turns_next',
          '    uint16_t f = l->functions;\n    l->functions &= ~1;\n    tell(l, subject, p);\n    l->functions = f;\n    return true;\n  }\n  return false;\n}\n\nvoid turns_next',
        ],
      ],
    ],
    [
      'stops every train with a function',
      'exhibition',
      BUSY,
      'bench/stops-uncommanded',
      [
        [
          'turns.c',
          '  uint16_t bit = (uint16_t)1 << function;',
          '  uint16_t bit = (uint16_t)1 << function;\n  for (uint8_t i = 0; i < TURNS_MOST; i++) locos[i].speed = 0;',
        ],
      ],
    ],
    [
      'sends what is meant for the service track on the main track too',
      'two-tracks',
      CV,
      'bench/cv-written-beside',
      [
        [
          'main.c',
          '    turns_next(buffer);\n',
          '    extern bool service_copy(struct packet *p);\n    if (!service_is_on || !service_copy(buffer)) turns_next(buffer);\n',
        ],
        [
          'service.c',
          'void service_next(struct packet *p) {',
          'bool service_copy(struct packet *p) {\n  if (step == INSTRUCT || step == RECOVER) *p = instruction;\n  else if (step == BEFORE) packet_reset(p);\n  else return false;\n  return true;\n}\n\nvoid service_next(struct packet *p) {',
        ],
      ],
    ],
    [
      'feeds its main track no more while the service track is on',
      'two-tracks',
      CV,
      'bench/clause-of-run',
      [
        [
          'main.c',
          '    feed_main();\n    sense_poll();',
          '    if (!service_is_on) feed_main();\n    sense_poll();',
        ],
      ],
    ],
    [
      'leaves the service track on',
      'two-tracks',
      CV,
      'bench/power-off-ignored',
      [['main.c', '    else service_off(false);', '    else service_is_on = true;']],
    ],
    [
      'takes a value of eight bits for a signed one',
      'two-tracks',
      CV,
      'bench/cv-not-written',
      [
        [
          'service.c',
          'packet_add(&instruction, value);',
          'packet_add(&instruction, value > 127 ? 127 : value);',
        ],
      ],
    ],
    [
      'takes the acknowledgement of the operation before for its own',
      'two-tracks',
      CV,
      'bench/answer-wrong',
      [
        ['service.c', '  writing = code == 3;\n  acknowledged = false;', '  writing = code == 3;'],
        ['service.c', 'ended = acknowledged = overloaded', 'ended = overloaded'],
      ],
    ],
    [
      'trips on the service track only once',
      'two-tracks',
      'short in programming',
      'bench/short-stays-on',
      [
        [
          'main.c',
          '      service_off(true);\n',
          '      {\n        static bool done;\n        if (done) break;\n        done = true;\n      }\n      service_off(true);\n',
        ],
      ],
    ],
    [
      'does not trip on the service track while a decoder is programmed',
      'two-tracks',
      'short in programming',
      'bench/short-late',
      [['service.c', 'if (over >= OVERLOAD_READINGS)', 'if (over >= OVERLOAD_READINGS && !watching)']],
    ],
    [
      'lets 250 mA flow on the service track for a little longer than the 100 ms of S-9.2.3:2012 B',
      'two-tracks',
      'short in programming',
      'bench/short-late',
      [['service.c', 'OVERLOAD_READINGS 930', 'OVERLOAD_READINGS 962']],
    ],
    [
      'goes on at the old speeds after its watchdog has restarted it',
      'exhibition',
      HANG,
      'bench/moves-after-hang',
      [
        [
          'turns.c',
          'static struct loco locos[TURNS_MOST];',
          'static struct loco locos[TURNS_MOST] __attribute__((section(".noinit")));',
        ],
        [
          'turns.c',
          'void turns_start(void) {',
          'void turns_start(void) {\n  static uint16_t kept __attribute__((section(".noinit")));\n  if (kept != 0x5AA5)\n    for (uint8_t i = 0; i < TURNS_MOST; i++) locos[i] = (struct loco){.address = 0};\n  kept = 0x5AA5;',
        ],
      ],
    ],
  ])('%s', (_, example, scenario, code, changes) => {
    const [result] = run(example, [scenario], planted(example, changes))
    const broken = result!.outcomes.filter((o) => o.verdict === 'broken').map((o) => o.finding.code)
    const all = [...broken, ...codes([result!])]
    expect(broken).not.toEqual([])
    expect(all).toContain(code)
  })
})

describe.runIf(HAVE_COMPILER)('a program that hangs', () => {
  const folder = workFolder()
  const halfBits = (flags: string[]) =>
    compile(folder, { file: '../bench/firmware/half-bits.c' }, 'atmega328p', flags).path
  const outcome = (elf?: string) => run('exhibition', [HANG], elf)[0]!.outcomes[0]!

  it('is stopped by the time-outs of decoders while its timer goes on', () => {
    expect(outcome(planted('exhibition', NO_WATCHDOG))).toMatchObject({
      verdict: 'met',
      finding: { code: 'bench/still-after-hang', params: { how: 'time-out' } },
    })
  })

  it('is restarted by its watchdog', () => {
    expect(outcome()).toMatchObject({
      verdict: 'met',
      finding: { code: 'bench/still-after-hang', params: { how: 'restart' } },
    })
  })

  it('leaves a level on the rails where the program itself turns the pin, unless a watchdog is quick', () => {
    expect(outcome(halfBits([]))).toMatchObject({
      verdict: 'broken',
      finding: { code: 'bench/level-after-hang' },
    })
    expect(outcome(halfBits(['-DWATCHDOG=WDTO_120MS']))).toMatchObject({ verdict: 'broken' })
    expect(outcome(halfBits(['-DWATCHDOG=WDTO_15MS']))).toMatchObject({ verdict: 'met' })
  })

  it('in another style passes everything else', () => {
    const names = [
      SHORT,
      'stop during a short',
      'every locomotive starts at once',
      BUSY,
      'controller restarts under way',
    ]
    const found = verdicts(run('exhibition', names, halfBits([])))
    expect(found.filter((v) => !v.endsWith(' met'))).toEqual([])
    expect(found).toContain('command-latency main met')
  })
})
