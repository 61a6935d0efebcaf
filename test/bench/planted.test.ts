// Firmware with one planted fault each, made from the examples' own sources, against the built-in scenarios.
import { describe, expect, it } from 'vitest'
import { HAVE_COMPILER } from '../firmware/compile.js'
import { codes, planted, run, verdicts } from './planted.js'

describe('the examples as they are', () => {
  it('exhibition: trips on a short by firmware or breaker, holds a start of all, stops after a restart', () => {
    const results = run('exhibition', [
      'short in main',
      'short in yard',
      'short in main, strongest place',
      'every locomotive starts at once',
      'controller restarts under way',
      'stops in their places',
    ])
    expect(verdicts(results).filter((v) => !v.endsWith(' met'))).toEqual([])
    // A short at the weakest place is judged by the clauses of the signal, too.
    const [main, yard, ...others] = results
    const withoutSignal = verdicts([main!, yard!]).filter((v) => /^(short-trip|command-latency) /.test(v))
    expect([...withoutSignal, ...verdicts(others)]).toEqual([
      'short-trip main met',
      'command-latency main met',
      'short-trip yard met',
      'command-latency main met',
      'short-trip main met',
      'inrush main met',
      'inrush yard met',
      'inrush branch met',
      'driver-heat main met',
      'driver-heat yard met',
      'driver-heat branch met',
      'supply-current main met',
      'supply-current yard met',
      'supply-current branch met',
      'start-up main met',
      'stopping-distance main met',
      'stopping-distance main met',
    ])
    // All three drivers hang on one enable pin: the firmware's trip takes the others with it.
    expect(results[0]!.findings[0]).toMatchObject({ params: { also: ['yard', 'branch'] } })
    expect(codes(results)).not.toContain('bench/power-stays-off')
  })

  it('two-tracks: writes a CV, and tells acknowledgement from silence', () => {
    const results = run('two-tracks', ['CV on programming'])
    expect(verdicts(results)).toContain('ack-detect programming met')
    expect(verdicts(results)).toContain('service-sequence service met')
    expect(verdicts(results).filter((v) => !v.endsWith(' met'))).toEqual([])
    const acts = results[0]!.timeline.filter((e) => e.kind === 'decoder').map((e) => e.sentence)
    expect(acts).toContain('written CV3 = 12')
    expect(acts).toContain('verified CV3 = 12')
  })
})

describe.runIf(HAVE_COMPILER)('a planted fault is caught', () => {
  it.each<[string, string, string, [string, string][], string, string]>([
    [
      'never trips',
      'exhibition',
      'main.c',
      [['  if (over < TRIP_READINGS) return;', '  return;']],
      'short in main',
      'bench/short-stays-on',
    ],
    [
      'trips too slowly',
      'exhibition',
      'main.c',
      [['TRIP_READINGS 20', 'TRIP_READINGS 200']],
      'short in main',
      'bench/short-late',
    ],
    [
      'trips on the first short only',
      'exhibition',
      'main.c',
      [
        [
          '  if (over < TRIP_READINGS) return;\n',
          '  static bool done;\n  if (over < TRIP_READINGS || done) return;\n  done = true;\n',
        ],
      ],
      'short in main, strongest place',
      'bench/short-stays-on',
    ],
    [
      'does not watch the current in its first second',
      'exhibition',
      'main.c',
      [
        [
          '  if (over < TRIP_READINGS) return;',
          '  static uint16_t looks;\n  if (looks < 10000) looks++, over = 0;\n  if (over < TRIP_READINGS) return;',
        ],
      ],
      'short in main, strongest place',
      'bench/short-stays-on',
    ],
    [
      'trips on inrush',
      'exhibition',
      'main.c',
      [['TRIP_READINGS 20', 'TRIP_READINGS 1']],
      'every locomotive starts at once',
      'bench/trips-at-start',
    ],
    [
      'switches on again into the short',
      'exhibition',
      'main.c',
      [['line_say("short\\n");', 'PORTB |= (1 << ENABLE);']],
      'short in main',
      'bench/short-on-again',
    ],
    [
      'never recovers',
      'exhibition',
      'main.c',
      [['if (is(words[1], "on")) PORTB |= (1 << ENABLE);', 'if (is(words[1], "on")) return false;']],
      'short in main',
      'bench/power-stays-off',
    ],
    [
      'hangs after a reset that is no power-up',
      'exhibition',
      'main.c',
      [['int main(void) {', 'int main(void) {\n  if (MCUSR & (1 << EXTRF)) for (;;) {}']],
      'controller restarts under way',
      'bench/silent-after-restart',
    ],
    [
      'keeps track power off after a reset that is no power-up',
      'exhibition',
      'main.c',
      [
        [
          '  PORTB |= (1 << ENABLE);\n  sei();',
          '  if (!(MCUSR & (1 << EXTRF))) PORTB |= (1 << ENABLE);\n  sei();',
        ],
        ['if (is(words[1], "on")) PORTB |= (1 << ENABLE);', 'if (is(words[1], "on")) return false;'],
      ],
      'controller restarts under way',
      'bench/dark-after-restart',
    ],
    [
      'reads no commands after a reset that is no power-up',
      'exhibition',
      'main.c',
      [['if (count) line_say', 'if (count && !(MCUSR & (1 << EXTRF))) line_say']],
      'controller restarts under way',
      'bench/deaf-after-restart',
    ],
    [
      'falls silent when it trips, with its watchdog off',
      'exhibition',
      'main.c',
      [['line_say("short\\n");', 'cli(); wdt_disable(); for (;;) {}']],
      'short in main',
      'bench/power-stays-off',
    ],
    [
      'watches the current in its main loop only, without a watchdog',
      'exhibition',
      'main.c',
      [['  wdt_enable(WDTO_250MS);', '']],
      'short while the main loop hangs',
      'bench/short-stays-on',
    ],
    [
      'has a watchdog that takes two seconds',
      'exhibition',
      'main.c',
      [['WDTO_250MS', 'WDTO_2S']],
      'short while the main loop hangs',
      'bench/short-stays-on',
    ],
    [
      'kicks its watchdog in an interrupt',
      'exhibition',
      'main.c',
      [
        [
          '  halfbit_load_bit(sender_next(&track));',
          '  halfbit_load_bit(sender_next(&track));\n  wdt_reset();',
        ],
        ['    wdt_reset();\n    feed', '    feed'],
      ],
      'short while the main loop hangs',
      'bench/short-stays-on',
    ],
    [
      'does not watch its service track where the main loop hangs',
      'two-tracks',
      'main.c',
      [['  wdt_enable(WDTO_250MS);', '']],
      'short while the main loop hangs',
      'bench/short-stays-on',
    ],
    [
      'forgets to refresh one address',
      'exhibition',
      'turns.c',
      [
        [
          '    uint8_t subject = TURNS[l->turn];',
          '    if (l->address == 47) continue;\n    uint8_t subject = TURNS[l->turn];',
        ],
      ],
      'heaviest traffic',
      'bench/clause-of-run',
    ],
    [
      'has power on the rails long before there are packets',
      'exhibition',
      'main.c',
      [
        [
          'int main(void) {',
          'int main(void) {\n  DDRB |= (1 << ENABLE);\n  PORTB |= (1 << ENABLE);\n  for (uint32_t i = 0; i < 1500000; i++) __asm__ volatile("nop\\nnop\\nnop\\nnop\\nnop\\nnop\\nnop\\nnop");',
        ],
      ],
      'controller restarts under way',
      'bench/moves-after-restart',
    ],
    [
      'takes noise for an acknowledgement',
      'two-tracks',
      'service.c',
      [
        ['ACK_MILLIAMPERE 40', 'ACK_MILLIAMPERE 0'],
        ['ACK_READINGS 30', 'ACK_READINGS 1'],
      ],
      'CV on programming',
      'bench/answer-wrong',
    ],
    [
      'misses a weak acknowledgement',
      'two-tracks',
      'service.c',
      [['higher >= ACK_READINGS', 'higher >= 250']],
      'CV on programming',
      'bench/answer-wrong',
    ],
    [
      'acknowledges by itself',
      'two-tracks',
      'service.c',
      [['return acknowledged ? SERVICE_ANSWERED : SERVICE_SILENT;', 'return SERVICE_ANSWERED;']],
      'CV on programming',
      'bench/answer-wrong',
    ],
    [
      'writes another CV',
      'two-tracks',
      'service.c',
      [['packet_add(&instruction, (uint8_t)field);', 'packet_add(&instruction, (uint8_t)(field + 1));']],
      'CV on programming',
      'bench/cv-not-written',
    ],
  ])('%s', (_, example, source, changes, scenario, code) => {
    const results = run(
      example,
      [scenario],
      planted(
        example,
        changes.map(([from, to]) => [source, from, to]),
      ),
    )
    expect(codes(results)).toContain(code)
    expect(results[0]!.outcomes.some((o) => o.verdict === 'broken' && o.finding.code === code)).toBe(true)
    expect(results[0]!.statements.some((s) => s.verdict === 'broken')).toBe(true)
  })
})
