/** The C header, compiled with the real compiler and run: every half-bit must come out as the search promised it. */
import { describe, expect, it } from 'vitest'
import {
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

/** One option of every timer and mode that a header can be written for, with a second pin where `pair`. */
function ways(chip: (typeof CHIPS)[number], pair: boolean): TimerOption[] {
  const { options } = searchTimers({
    controller: { chip, clock: { frequency: HZ, source: 'crystal' } },
    track: { oneHalf: 58, zeroHalf: 100, pin: 'PD7', ...(pair ? { inverted: 'PB0' } : {}) },
    clauses,
  })
  const found = new Map<string, TimerOption>()
  for (const o of options.filter(hasHeader)) {
    // Ticks of 4 us and more make other half-bits; they are promised too, but one of each mode is enough.
    const key = `${o.timer.number} ${o.modeId}`
    if (!found.has(key)) found.set(key, o)
  }
  return [...found.values()]
}

/** A firmware that sends ones and zeros in turn; with `blockUs` it turns interrupts off for so long, again and again. */
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
static volatile bool one;
ISR(HALFBIT_VECTOR) {
#if HALFBIT_LOADS_BITS
  one = !one;
  halfbit_load_bit(one);
#else
  static bool second;
  halfbit_load_half(one);
  if (second) one = !one;
  second = !second;
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
        option,
        id: `${chip} ${option.id}${pair ? ` and ${option.inverted}` : ''}`,
      })),
    ),
  )

  it.each(cases)('$id', ({ chip, option }) => {
    const { main, twin } = run(chip, option)
    const one = option.one.ticks * option.divider
    const zero = option.zero.ticks * option.divider
    // What the hardware times is exact to the cycle. A pin written by an interrupt waits for the instruction before it
    // (data sheet, interrupt response time); the main loop's jump takes 2 cycles.
    const slack = option.behaviour === 'pin' ? 2 : 0
    let text = ''
    // The first two bits may still be the start.
    for (let i = 5; i < main.count; i++) {
      const cycles = main.ticks[i]! - main.ticks[i - 1]!
      text += Math.abs(cycles - one) <= slack ? '1' : Math.abs(cycles - zero) <= slack ? '0' : `(${cycles})`
    }
    expect(text.length).toBeGreaterThan(100)
    // Two halves of a one, two of a zero, from whichever half the fifth edge begins.
    expect(text).toMatch(/^(1|11|0|00)?(1100|0011)+(1|11|110|0|00|001)?$/)
    if (option.inverted === undefined) return
    let opposed = 0
    for (let i = 5; i < main.count; i++) {
      const at = twin.ticks.subarray(0, twin.count).findIndex((t) => Math.abs(t - main.ticks[i]!) <= slack)
      if (at >= 0 && twin.levels[at] !== main.levels[i]) opposed++
    }
    expect(opposed).toBe(main.count - 5)
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
