/**
 * The bidirectional cut-out as one run of the counter: what its registers take, and the function that loads them. Both
 * inputs of the bridge are high in it, which the truth tables of bridges with two inputs have as the brake; with both low
 * some of them leave the rails open instead.
 */
import { formatTimeUs } from '../../units/index.js'
import { channelsOf, type HeaderInput, upper, writes } from './header-input.js'
import type { RegisterLoad } from './mode.js'
import type { TimerOption } from './option.js'

/**
 * One run of the counter can be a whole cut-out, so that no interrupt has to be in time for its edges: a 16-bit timer in a
 * mode with one run per bit, and both inputs of a bridge from its channels.
 */
export function makesCutout({ timer, behaviour, inverted }: TimerOption): boolean {
  return timer.kind === 'avr16' && behaviour.startsWith('bit') && inverted !== undefined
}

/** What the cut-out writes to each register, in the order of the option's loads. */
export function cutoutLoads(i: HeaderInput): { register: string; count: number; says: string }[] {
  const { option: o, cutout } = i
  if (!cutout) return []
  const [, twin] = channelsOf(i)
  const ticks = (us: number) => Math.round(us / o.tickUs)
  return o.loads.map(({ register }) => {
    if (register === `OCR${o.timer.number}${o.channel}`)
      return { register, count: 0xffff, says: `never reached: ${o.pin} stays high` }
    if (register === `OCR${o.timer.number}${twin}`)
      return {
        register,
        count: ticks(cutout.startUs) - 1,
        says: `${o.inverted} goes high ${formatTimeUs(ticks(cutout.startUs) * o.tickUs, 4)} after the end bit`,
      }
    return {
      register,
      count: ticks(cutout.endUs) - 1,
      says: `${o.inverted} goes low ${formatTimeUs(ticks(cutout.endUs) * o.tickUs, 5)} after the end bit`,
    }
  })
}

/** Loads a cut-out after the bit that is going out, edges and all. */
export function cutoutLoader(i: HeaderInput): string[] {
  const buffered = i.option.behaviour === 'bit-next'
  const p = upper(i)
  const write = (register: string) => `  ${register} = ${p}_${register}_CUTOUT;`
  const registers = i.option.loads.map((l) => l.register)
  return [
    '',
    '/*',
    ' * Load the cut-out in place of the next bit, right after an end bit. The timer makes its edges: both inputs of the',
    ' * driver are high in between, which joins the rails.',
    ' */',
    `static inline __attribute__((always_inline)) void ${i.prefix}_load_cutout(void) {`,
    ...(buffered
      ? registers.map(write)
      : [
          `  ${registers.at(-1)} = ${i.prefix}_top;`,
          ...registers.slice(0, -1).map(write),
          `  ${i.prefix}_top = ${p}_${registers.at(-1)}_CUTOUT;`,
        ]),
    '}',
  ]
}

/** With a cut-out there are three tops: what is kept for the next interrupt is the count itself. */
export function countedTop(i: HeaderInput, edges: readonly RegisterLoad[], head: string): string[] {
  const top = i.option.loads.at(-1)!.register
  const p = upper(i)
  return [
    '/* The bit that is going out: its top is written when it begins, its edges were one bit earlier. */',
    `static uint16_t ${i.prefix}_top = ${p}_${top}_ONE;`,
    '',
    `/* Load the bit after the one that is going out. Call it first thing in ISR(${p}_VECTOR), in one source file only. */`,
    head,
    `  ${top} = ${i.prefix}_top;`,
    ...writes(i, edges, 'one'),
    `  ${i.prefix}_top = one ? ${p}_${top}_ONE : ${p}_${top}_ZERO;`,
    '}',
  ]
}
