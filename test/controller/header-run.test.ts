/** The C header, compiled with the real compiler and run: every half-bit must come out as the search promised it. */
import { describe, expect, it } from 'vitest'
import {
  CHIPS as ALL_CHIPS,
  hasHeader,
  loadFirmware,
  SimulatedController,
  searchTimers,
  signalHeader,
  type TimerOption,
} from '../../src/controller/index.js'
import { EdgeList } from '../../src/signal/index.js'
import { profileOf } from '../../src/standard/index.js'
import { compile, HAVE_COMPILER, workFolder } from '../firmware/compile.js'

const { clauses } = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })
const folder = workFolder()

const CHIPS = ['atmega328p', 'atmega2560', 'atmega32u4'] as const
const HZ = 16e6
const SOFT_PINS = {
  atmega328p: ['PD7', 'PD4', 'PB0'],
  atmega2560: ['PK0', 'PK1', 'PA0'],
  atmega32u4: ['PD4', 'PD2', 'PB0'],
} as const

/** One option of every timer, mode and channel that a header can be written for; of every pair of channels where `pair`. */
function ways(chip: (typeof CHIPS)[number], pair: boolean): TimerOption[] {
  const controller = { chip, clock: { frequency: HZ, source: 'crystal' } } as const
  const half = { oneHalf: 58, zeroHalf: 100 }
  const timed = [...new Set(ALL_CHIPS[chip].timers.flatMap((t) => t.outputs.map((o) => o.pin)))]
  // Two pins of one port and of two ports, written by software.
  const [free, beside, apart] = SOFT_PINS[chip]
  const wanted: [string, string | undefined][] = pair
    ? [
        ...timed.flatMap((a) => timed.map((b): [string, string] => [a, b])).filter(([a, b]) => a !== b),
        [free, beside],
        [free, apart],
      ]
    : [...timed, free].map((pin) => [pin, undefined])
  const found = new Map<string, TimerOption>()
  for (const [pin, inverted] of wanted) {
    const soft = pin === free && (inverted === undefined || inverted === beside || inverted === apart)
    const { options } = searchTimers({
      controller,
      track: { ...half, pin, ...(inverted === undefined ? {} : { inverted }) },
      clauses,
      keepTo: { pin: true },
    })
    for (const o of options.filter(hasHeader)) {
      // Software writes any pin: one port and two are enough.
      if (o.behaviour === 'pin' && !soft) continue
      // Ticks of 4 us and more make other half-bits; they are promised too, but one of each mode is enough.
      const key = `${o.timer.number} ${o.modeId} ${o.pin} ${o.inverted}`
      if (!found.has(key)) found.set(key, o)
    }
  }
  return [...found.values()]
}

/** A firmware in the style of the header's own words that sends ones and zeros in turn, a one first; with `blockUs` it turns interrupts off for so long, again and again. */
function firmware(chip: string, option: TimerOption, blockUs = 0, stopUs = 0): Uint8Array {
  const header = signalHeader({
    chip: chip as 'atmega328p',
    clockHz: HZ,
    option,
    track: 'main',
    prefix: 'halfbit',
    clauses,
  })
  const source = `${header}
#include <avr/interrupt.h>
#include <util/delay.h>
/* What comes next; with VARY worked out in a varying time, as real firmware does. */
static bool next(void) {
  static bool one, second;
  if (!HALFBIT_LOADS_BITS) second = !second;
  if (HALFBIT_LOADS_BITS || second) one = !one;
#ifdef VARY
  static volatile uint8_t work, round;
  for (uint8_t i = (uint8_t)(++round & 15); i > 0; i--) work += i;
#endif
  return one;
}
ISR(HALFBIT_VECTOR) {
#if HALFBIT_LOADS_BITS
  halfbit_load_bit(next());
#else
  halfbit_edge();
  halfbit_load_half(next());
#endif
}
int main(void) {
  halfbit_start();
  sei();
#ifdef STOP
  _delay_us(STOP);
  halfbit_stop();
  for (;;) continue;
#endif
  for (;;) {
${
  blockUs > 0
    ? `    _delay_us(777.7);
    cli();
    _delay_us(${blockUs});
    sei();`
    : '    continue;'
}
  }
}
`
  return compile(folder, { text: source }, chip, [
    '-Wextra',
    '-Werror',
    ...(stopUs > 0 ? [`-DSTOP=${stopUs}`] : []),
    ...(blockUs > 0 ? [] : ['-DVARY']),
  ]).bytes
}

/** Edges of the pin and of its opposite . */
function run(
  chip: (typeof CHIPS)[number],
  option: TimerOption,
  forUs = 30e3,
  blockUs = 0,
  stopUs = 0,
): { main: EdgeList; twin: EdgeList } {
  const image = loadFirmware(firmware(chip, option, blockUs, stopUs), `${option.id}.elf`)
  const controller = new SimulatedController(chip, HZ, image)
  const main = new EdgeList()
  const twin = new EdgeList()
  const recorders = [controller.record(main, option.pin)]
  if (option.inverted !== undefined) recorders.push(controller.record(twin, option.inverted))
  controller.runTo((forUs / 1e6) * HZ)
  for (const r of recorders) r.flush()
  return { main, twin }
}

describe.skipIf(!HAVE_COMPILER)('C header on the simulated controller (referee avr-gcc)', () => {
  const cases = CHIPS.flatMap((chip) =>
    [false, true].flatMap((pair) =>
      ways(chip, pair).map((option) => ({
        chip,
        pair,
        option,
        id: `${chip} ${option.id}${pair ? ` and ${option.inverted}` : ''}`,
      })),
    ),
  )

  it('has every timer, mode, channel and pair', () => {
    // Single: CTC on each channel, buffered toggle on A, buffered bit on all but A, ICR on each of a 16-bit timer, any pin.
    const count = (chip: string, pair: boolean) =>
      cases.filter((c) => c.chip === chip && c.pair === pair).length
    expect([count('atmega328p', false), count('atmega328p', true)]).toEqual([17, 14])
    expect([count('atmega2560', false), count('atmega2560', true)]).toEqual([50, 72])
    expect([count('atmega32u4', false), count('atmega32u4', true)]).toEqual([19, 22])
  })

  it.each(cases)('$id', ({ chip, option }) => {
    const { main, twin } = run(chip, option)
    const one = option.one.ticks * option.divider
    const zero = option.zero.ticks * option.divider
    // What the hardware times is exact to the cycle. A pin written by an interrupt waits for the instruction before it
    // (data sheet, interrupt response time); the main loop's jump takes 2 cycles.
    const slack = option.behaviour === 'pin' ? 2 : 0
    // From reset, nothing left out: low until the first edge, which rises, and every interval after it is a half-bit.
    expect([...main.levels.subarray(0, 2)]).toEqual([0, 1])
    let text = ''
    for (let i = 2; i < main.count; i++) {
      const cycles = main.ticks[i]! - main.ticks[i - 1]!
      text += Math.abs(cycles - one) <= slack ? '1' : Math.abs(cycles - zero) <= slack ? '0' : `(${cycles})`
    }
    expect(text.length).toBeGreaterThan(100)
    // Bits from the first edge on: ones that were loaded by the start, then a one and a zero in turn.
    expect(text).toMatch(/^(11){0,3}(1100)+(1|11|110)?$/)
    // The signal comes soon: within a millisecond of reset.
    expect(main.ticks[1]!).toBeLessThan(HZ / 1000)
    if (option.inverted === undefined) return
    // The opposite stays low until the second edge, and from then on moves with each edge, the other way.
    expect(twin.count).toBeGreaterThan(100)
    const apart = option.behaviour === 'pin' ? 4 : 0
    expect(twin.levels[0]).toBe(0)
    for (let i = 1; i < Math.min(twin.count, main.count - 1); i++) {
      const [at, level] = [main.ticks[i + 1]!, main.levels[i + 1]!]
      expect(Math.abs(twin.ticks[i]! - at)).toBeLessThanOrEqual(apart)
      expect(twin.levels[i]).toBe(1 - level)
    }
  })

  const late = [
    'avr16-1/ctc-toggle/1/PB1',
    'avr16-1/ctc-toggle/8/PB1',
    'avr16-1/icr-bit/1/PB1',
    'avr16-1/fast-toggle/8/PB1',
    'avr16-1/fast-bit/8/PB2',
  ]
  const { options } = searchTimers({
    controller: { chip: 'atmega328p', clock: { frequency: HZ, source: 'crystal' } },
    track: { oneHalf: 58, zeroHalf: 100 },
    clauses,
  })

  it.each(late)('%s keeps its signal up to the deadline, and then breaks as it says', (id) => {
    const option = options.find((o) => o.id === id)!
    const halves = (blockUs: number) => {
      const { main } = run('atmega328p', option, 400e3, blockUs)
      return Array.from({ length: main.count - 5 }, (_, i) => main.ticks[i + 5]! - main.ticks[i + 4]!)
    }
    const one = option.one.ticks * option.divider
    const zero = option.zero.ticks * option.divider
    const text = (list: number[]) => list.map((c) => (c === one ? '1' : c === zero ? '0' : 'x')).join('')
    // Late by as much as is allowed, less 2 us for what the loop itself adds around the block.
    expect(text(halves(option.deadline.lateUs - 2))).toMatch(/^(1|11|0|00)?(1100|0011)+(1|11|110|0|00|001)?$/)
    const broken = halves(option.deadline.writeUs + 20)
    expect(text(broken)).not.toMatch(/^(1|11|0|00)?(1100|0011)+(1|11|110|0|00|001)?$/)
    if (option.deadline.pulseUs === undefined) {
      // Old data again: wrong bits, but never a half-bit that is none.
      expect(text(broken)).not.toContain('x')
    } else {
      // The pulse of the break is the longest there is, to the cycle: a whole counter period and what belongs to it.
      const most = Math.max(...broken)
      const promised = (option.deadline.pulseUs * HZ) / 1e6
      expect(most).toBe(promised)
    }
  })

  it.each(cases.filter((c) => c.chip === 'atmega328p' && c.option.one.us === 58))(
    '$id stops cleanly',
    ({ chip, option }) => {
      // A moment that is no multiple of anything.
      const { main, twin } = run(chip, option, 30e3, 0, 7777.7)
      const last = main.count - 1
      expect(main.levels[last]).toBe(0)
      expect(main.ticks[last]! / 16).toBeGreaterThan(7700)
      // The delay loop waits longer for all the interrupts in between.
      expect(main.ticks[last]! / 16).toBeLessThan(15e3)
      const slack = option.behaviour === 'pin' ? 3 : 0
      const half = main.ticks[last]! - main.ticks[last - 1]!
      const whole = [option.one, option.zero].map((h) => h.ticks * option.divider)
      expect(whole.some((w) => Math.abs(half - w) <= slack)).toBe(true)
      if (option.inverted === undefined) return
      // The opposite falls when the last low half of the main pin is over, give or take the instructions of the stop.
      expect(twin.levels[twin.count - 1]).toBe(0)
      const end = twin.ticks[twin.count - 1]! - main.ticks[last]!
      expect(whole.some((w) => Math.abs(end - w) <= (option.behaviour === 'pin' ? 40 : 0))).toBe(true)
    },
  )
})
