/**
 * A C header that sets up one output on a timer of the classic 8-bit AVR family and loads it bit by bit. Our own
 * style: one header per output, everything `static inline`, no library but the compiler's own.
 */
import type { Clause, Limits } from '../../standard/index.js'
import { formatNumber, formatRange, formatShare, formatTimeUs, InputError } from '../../units/index.js'
import { CHIPS } from '../chips/index.js'
import { cutoutLoads } from './cutout-code.js'
import { loader, perBit, start, stop } from './header-code.js'
import type { HeaderInput } from './header-input.js'
import type { TimerOption } from './option.js'

export { makesCutout } from './cutout-code.js'
export type { CutoutTimes, HeaderInput } from './header-input.js'

/** Modes that a header can be written for. */
const MODES = ['fast-bit', 'fast-toggle', 'icr-bit', 'ctc-toggle', 'pin']

/** Can {@link signalHeader} write this option? */
export function hasHeader(option: TimerOption): boolean {
  return (option.timer.kind === 'avr8' || option.timer.kind === 'avr16') && MODES.includes(option.modeId)
}

/** A C identifier from a name of the user's own. */
export function cName(text: string): string {
  const name = text
    .toLowerCase()
    .replace(/[^a-z0-9]+/g, '_')
    .replace(/^_+|_+$/g, '')
  return /^[a-z]/.test(name) ? name : `track_${name}`
}

/**
 * The header's text.
 * @throws InputError when the option's timer is none of the classic family or the option was refused.
 */
export function signalHeader(input: HeaderInput): string {
  refuseUnwritten(input)
  return [
    ...opening(input),
    ...constants(input),
    '',
    ...functions(input),
    '',
    `#endif /* ${guard(input)} */`,
    '',
  ].join('\n')
}

/**
 * The same in two files: one for figures alone, which every source file may include, and one for the functions, for the
 * file with the interrupt. Each as lines, without the guard around it.
 * @throws InputError as {@link signalHeader} does.
 */
export function signalParts(input: HeaderInput): { figures: string[]; functions: string[] } {
  refuseUnwritten(input)
  return {
    figures: [...comment(account(input)), ...constants(input)],
    functions: [...checks(input), ...functions(input)],
  }
}

function refuseUnwritten({ option, chip }: HeaderInput): void {
  if (option.refused !== undefined) throw new InputError(`no C header: ${option.refused}`)
  if (!hasHeader(option)) {
    throw new InputError(
      `no C header for ${option.timer.name} of ${CHIPS[chip].name}; headers are written for the 8- and 16-bit timers of ATmega328P, ATmega2560, ATmega32U4 and for Timer 0 of ATtiny85`,
    )
  }
}

function functions(input: HeaderInput): string[] {
  return [...loader(input), '', ...start(input), '', ...stop(input)]
}

const upper = (i: HeaderInput) => i.prefix.toUpperCase()
const guard = (i: HeaderInput) => `${upper(i)}_SIGNAL_H`

function comment(lines: string[]): string[] {
  const out = ['/*']
  for (const line of lines) {
    // A name out of the design must not end the comment.
    for (const part of wrap(line.replace(/\*\//g, '* /'), 108)) out.push(part === '' ? ' *' : ` * ${part}`)
  }
  return [...out, ' */']
}

function wrap(text: string, width: number): string[] {
  const indent = /^ */.exec(text)![0]
  const lines: string[] = []
  let line = ''
  for (const word of text.trim().split(' ')) {
    const longer = line === '' ? word : `${line} ${word}`
    if (line !== '' && indent.length + longer.length > width) {
      lines.push(indent + line)
      line = `  ${word}`
    } else line = longer
  }
  return [...lines, line === '' ? '' : indent + line]
}

function windowOf(clause: Clause): string {
  const { min, max }: Limits = clause.sender
  const { document, edition, section, status } = clause.source
  return `limits ${min} to ${max} us (${[document, edition, section].filter((t) => t !== '').join(' ')}, ${status})`
}

/** What the signal is, how it is made, and from where the figures are. */
function account(i: HeaderInput): string[] {
  const { option: o, clauses, clockHz } = i
  const figures = (name: string, h: TimerOption['one'], clause: Clause) =>
    `  ${name}: ${h.ticks} ticks of ${formatTimeUs(o.tickUs)} = ${formatTimeUs(h.us, 6)}; with the clock's tolerance ${formatRange(h.lowUs, h.highUs, 'us')}; ${windowOf(clause)}`
  const chip = CHIPS[i.chip]
  const second = o.inverted === undefined ? '' : ` and, with the opposite level, ${o.inverted}`
  return [
    `The track signal of output "${i.track}" on ${o.pin}${second} of an ${chip.name} at ${formatNumber(clockHz / 1e6, 8)} MHz.`,
    i.writtenBy ??
      'Written by `halfbit timers DESIGN --c FILE`. Change the design and write it again rather than edit it.',
    '',
    `How: ${o.timer.name}, ${o.mode}.`,
    `Registers from ${chip.source}.`,
    `Clock: ${formatNumber(clockHz / 1e6, 8)} MHz divided by ${o.divider}; ${o.tolerance.says}.`,
    'Half-bits:',
    figures('one', o.one, clauses['one-half']),
    figures('zero', o.zero, clauses['zero-half']),
    `  a zero can be stretched to halves of ${formatTimeUs(o.longestZeroUs, 6)}`,
    '',
    ...deadlineText(i),
    `Load: ${formatNumber(o.interruptsPerSecond, 5)} interrupts per second at most, about ${formatShare(o.cpuShare, 2)} of the controller (assumed length of the interrupt; \`halfbit simulate\` measures it).`,
    `Takes: ${o.occupies.join('; ')}.`,
  ]
}

function opening(i: HeaderInput): string[] {
  return [...comment(account(i)), `#ifndef ${guard(i)}`, `#define ${guard(i)}`, '', ...checks(i)]
}

/** Includes, and what does not let the counts be compiled for another chip or clock. */
function checks(i: HeaderInput): string[] {
  const { clockHz } = i
  const chip = CHIPS[i.chip]
  return [
    '#include <avr/io.h>',
    '#include <stdbool.h>',
    '#include <stdint.h>',
    '',
    `#if !defined(__AVR_${chip.name}__)`,
    `#error "${i.prefix}_signal: pins and registers are those of the ${chip.name}"`,
    '#endif',
    '#ifndef F_CPU',
    '#error "F_CPU is not set: give the clock in Hz to the compiler, for example -DF_CPU=' + `${clockHz}UL"`,
    '#endif',
    '#ifdef __cplusplus',
    `#define ${upper(i)}_ASSERT static_assert`,
    '#else',
    `#define ${upper(i)}_ASSERT _Static_assert`,
    '#endif',
    `${upper(i)}_ASSERT(F_CPU == ${clockHz}UL, "the counts below are for ${formatNumber(clockHz / 1e6, 8)} MHz; write the header again for another clock");`,
    '',
  ]
}

function deadlineText(i: HeaderInput): string[] {
  const { deadline, behaviour } = i.option
  const asks = perBit(i) ? 'bit' : 'half-bit'
  if (behaviour === 'pin') {
    return [
      `Deadline: the interrupt may be at most ${formatTimeUs(deadline.lateUs, 3)} later than usual. Missed: ${deadline.miss.sentence}.`,
    ]
  }
  const next = behaviour === 'half-next' || behaviour === 'bit-next'
  return [
    `Deadline: the load must be done ${formatTimeUs(deadline.writeUs, 6)} after the start of the ${asks} that asks for it; with about ${formatTimeUs(deadline.writeUs - deadline.lateUs, 3)} (assumed) for entry and work the interrupt may start ${formatTimeUs(deadline.lateUs, 3)} late.`,
    `Missed: ${deadline.miss.sentence}.`,
    next
      ? `Double-buffered: what is loaded now goes out as the next ${asks}.`
      : behaviour === 'half-now'
        ? 'Not buffered: what is loaded now is the half-bit that has just begun. Keep every other interrupt and every block with interrupts off shorter than the deadline.'
        : 'The top is not buffered, the edges are: the loader keeps the top of the next bit back for one bit.',
  ]
}

/** Constants: the counts of each register, with what they mean. */
function constants(i: HeaderInput): string[] {
  const { option: o } = i
  const p = upper(i)
  const lines = [
    `#define ${p}_VECTOR ${o.interrupt} /* your ISR(${p}_VECTOR) calls ${perBit(i) ? '' : `${i.prefix}_edge, then `}${i.prefix}_load_${perBit(i) ? 'bit' : 'half'} */`,
    `#define ${p}_LOADS_BITS ${perBit(i) ? 1 : 0} /* 1: one interrupt per bit, 0: one per half-bit */`,
  ]
  if (i.preamble !== undefined)
    lines.push(`#define ${p}_PREAMBLE ${i.preamble} /* ones before a packet, from the design */`)
  for (const l of o.loads) {
    lines.push(
      `#define ${p}_${l.register}_ONE ${l.one}u /* ${l.says} */`,
      `#define ${p}_${l.register}_ZERO ${l.zero}u`,
    )
  }
  for (const { register, count, says } of cutoutLoads(i))
    lines.push(`#define ${p}_${register}_CUTOUT ${count}u /* ${says} */`)
  return lines
}
