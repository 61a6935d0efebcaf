/**
 * A C header that sets up one output on a timer of the classic 8-bit AVR family and loads it bit by bit. Our own
 * style: one header per output, everything `static inline`, no library but the compiler's own.
 */
import type { Clause, ClauseId, Limits } from '../../standard/index.js'
import { formatNumber, formatShare, formatTimeUs, InputError } from '../../units/index.js'
import { CHIPS, type ChipId } from '../chips/index.js'
import type { RegisterLoad } from './mode.js'
import type { TimerOption } from './option.js'

export interface HeaderInput {
  chip: ChipId
  /** System clock of the design, Hz. */
  clockHz: number
  option: TimerOption
  /** Name of the output in the design, for the comments. */
  track: string
  /** Prefix of every name: `halfbit` makes `halfbit_start` and `HALFBIT_ONE_US`. A C identifier in lower case. */
  prefix: string
  /** Ones before a packet, where the design says. */
  preamble?: number
  clauses: Readonly<Record<ClauseId, Clause>>
}

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
  const { option, chip } = input
  if (option.refused !== undefined) throw new InputError(`no C header: ${option.refused}`)
  if (!hasHeader(option)) {
    throw new InputError(
      `no C header for ${option.timer.name} of ${CHIPS[chip].name}; headers are written for the 8- and 16-bit timers of ATmega328P, ATmega2560, ATmega32U4 and for Timer 0 of ATtiny85`,
    )
  }
  return [
    ...opening(input),
    ...constants(input),
    '',
    ...loader(input),
    '',
    ...start(input),
    '',
    ...stop(input),
    '',
    `#endif /* ${guard(input)} */`,
    '',
  ].join('\n')
}

const upper = (i: HeaderInput) => i.prefix.toUpperCase()
const guard = (i: HeaderInput) => `${upper(i)}_SIGNAL_H`
const perBit = (i: HeaderInput) => i.option.behaviour === 'bit-now' || i.option.behaviour === 'bit-next'

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

function opening(i: HeaderInput): string[] {
  const { option: o, clauses, clockHz } = i
  const figures = (name: string, h: TimerOption['one'], clause: Clause) =>
    `  ${name}: ${h.ticks} ticks of ${formatTimeUs(o.tickUs)} = ${formatTimeUs(h.us, 6)}; with the clock's tolerance ${formatNumber(h.lowUs, 5)} to ${formatNumber(h.highUs, 5)} us; ${windowOf(clause)}`
  const chip = CHIPS[i.chip]
  const second = o.inverted === undefined ? '' : ` and, with the opposite level, ${o.inverted}`
  return [
    ...comment([
      `The track signal of output "${i.track}" on ${o.pin}${second} of an ${chip.name} at ${formatNumber(clockHz / 1e6, 8)} MHz.`,
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
    ]),
    `#ifndef ${guard(i)}`,
    `#define ${guard(i)}`,
    '',
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
    `#define ${p}_VECTOR ${o.interrupt} /* your ISR(${p}_VECTOR) calls ${i.prefix}_load_${perBit(i) ? 'bit' : 'half'} */`,
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
  return lines
}

/** `OCR1A = one ? X : Y;` for each register, in the order in which they must be written. */
function writes(i: HeaderInput, loads: readonly RegisterLoad[], which: string): string[] {
  const p = upper(i)
  return loads.map((l) => `  ${l.register} = ${which} ? ${p}_${l.register}_ONE : ${p}_${l.register}_ZERO;`)
}

function loader(i: HeaderInput): string[] {
  const { option: o } = i
  const name = `${i.prefix}_load_${perBit(i) ? 'bit' : 'half'}`
  const head = `static inline __attribute__((always_inline)) void ${name}(bool one) {`
  switch (o.behaviour) {
    case 'bit-next':
      return [
        `/* Load the bit after the one that is going out. Call it first thing in ISR(${upper(i)}_VECTOR). */`,
        head,
        ...writes(i, o.loads, 'one'),
        '}',
      ]
    case 'bit-now': {
      const top = o.loads.filter((l) => l.register.startsWith('ICR'))
      const edges = o.loads.filter((l) => !l.register.startsWith('ICR'))
      return [
        '/* The bit that is going out: its top is written when it begins, its edges were one bit earlier. */',
        `static bool ${i.prefix}_now = true;`,
        '',
        `/* Load the bit after the one that is going out. Call it first thing in ISR(${upper(i)}_VECTOR), in one source file only. */`,
        head,
        ...writes(i, top, `${i.prefix}_now`),
        ...writes(i, edges, 'one'),
        `  ${i.prefix}_now = one;`,
        '}',
      ]
    }
    case 'half-next':
      return [
        '/* Load the half-bit after the one that is going out: twice the same for each bit. */',
        head,
        ...writes(i, o.loads, 'one'),
        '}',
      ]
    case 'pin':
      return [
        '/* Turn the pin over and load the half-bit that begins: twice the same for each bit. The pin comes first, so that it is never later than the interrupt. */',
        head,
        ...togglePins(i),
        ...writes(i, o.loads, 'one'),
        '}',
      ]
    default:
      return [
        '/* Load the half-bit that has just begun: twice the same for each bit. Do it before anything slow. */',
        head,
        ...writes(i, o.loads, 'one'),
        '}',
      ]
  }
}

const pinsOf = (i: HeaderInput) =>
  [i.option.pin, i.option.inverted].filter((p): p is string => p !== undefined)

/** Pins by port: `PORTB` → `(1 << PB1) | (1 << PB2)`. */
function byPort(pins: readonly string[]): [string, string][] {
  const ports = new Map<string, string[]>()
  for (const pin of pins) ports.set(pin[1]!, [...(ports.get(pin[1]!) ?? []), `(1 << ${pin})`])
  return [...ports].map(([port, bits]) => [port, bits.join(' | ')])
}

/** In brackets, unless it is one bit, which has its own. */
const group = (bits: string) => (bits.includes('|') ? `(${bits})` : bits)

// Writing a one to PINx turns the output over, in one instruction (data sheet, I/O ports).
const togglePins = (i: HeaderInput) => byPort(pinsOf(i)).map(([port, bits]) => `  PIN${port} = ${bits};`)

function start(i: HeaderInput): string[] {
  const { option: o } = i
  const n = o.timer.number
  const wide = o.timer.kind === 'avr16'
  const mask = o.settings.find((s) => s.register.startsWith('TIMSK'))!
  const shared = mask.register === 'TIMSK'
  const flags = shared ? 'TIFR' : `TIFR${n}`
  const control = o.settings.filter((s) => s.register.startsWith('TCCR'))
  const a = control.find((s) => s.register === `TCCR${n}A`)!
  const b = control.find((s) => s.register === `TCCR${n}B`)!
  const lines = [
    '/* Set up pin and timer and start with ones. Interrupts are still off: call sei() when the rest is ready. */',
    `static inline void ${i.prefix}_start(void) {`,
    `  TCCR${n}B = 0; /* stopped, and in a mode in which the compare registers take values at once */`,
    `  TCCR${n}A = 0;`,
  ]
  const first = o.pin
  lines.push(...byPort([first]).map(([port, bits]) => `  PORT${port} &= (uint8_t)~${group(bits)};`))
  if (o.inverted !== undefined && o.behaviour === 'pin')
    lines.push(...byPort([o.inverted]).map(([port, bits]) => `  PORT${port} |= ${bits};`))
  lines.push(...byPort(pinsOf(i)).map(([port, bits]) => `  DDR${port} |= ${bits};`))
  if (o.inverted !== undefined && o.behaviour === 'half-now') lines.push(...opposed(i, wide))
  for (const l of o.loads) lines.push(`  ${l.register} = ${upper(i)}_${l.register}_ONE;`)
  const top = o.loads.at(-1)!
  lines.push(
    perBit(i)
      ? `  TCNT${n} = ${upper(i)}_${top.register}_ONE - 2; /* three ticks before the first bit, which sets the output */`
      : `  TCNT${n} = 0;`,
  )
  lines.push(`  TCCR${n}A = ${a.value}; /* ${hex(a.number)}: ${a.says} */`)
  lines.push(`  ${flags} = ${flagOf(mask.value)}; /* forget what came before */`)
  lines.push(`  ${mask.register} ${shared ? '|=' : '='} ${mask.value}; /* ${mask.says} */`)
  lines.push(`  TCCR${n}B = ${b.value}; /* ${hex(b.number)}: ${b.says} */`, '}')
  return lines
}

const hex = (n: number | undefined) => `0x${(n ?? 0).toString(16).toUpperCase().padStart(2, '0')}`

/** Both channels toggle from now on: start them with opposite levels by a forced compare. */
function opposed(i: HeaderInput, wide: boolean): string[] {
  const n = i.option.timer.number
  const main = i.option.channel
  const pin = i.option.inverted!
  const twin = CHIPS[i.chip].timers
    .find((t) => t.kind === i.option.timer.kind && t.number === n)!
    .outputs.find((x) => x.pin === pin)!.channel
  const strobe = wide ? `TCCR${n}C` : `TCCR${n}B`
  return [
    `  TCCR${n}A = (1 << COM${n}${main}1) | (1 << COM${n}${twin}1) | (1 << COM${n}${twin}0); /* a compare clears ${i.option.pin} and sets ${pin} … */`,
    `  ${strobe} = (1 << FOC${n}${main}) | (1 << FOC${n}${twin}); /* … and is forced here */`,
  ]
}

/**
 * Stop at the end of a low half: then neither pin makes a half-bit that is none. The main pin is taken from the timer while
 * it is low anyway; its opposite falls when the run of the counter ends.
 */
function stop(i: HeaderInput): string[] {
  const { option: o } = i
  const n = o.timer.number
  const mask = o.settings.find((s) => s.register.startsWith('TIMSK'))!
  const flags = mask.register === 'TIMSK' ? 'TIFR' : `TIFR${n}`
  const port = o.pin[1]!
  const longest = formatTimeUs(4 * Math.max(o.one.us, o.zero.us), 3)
  // In PWM the compare of the edge tells; a toggled pin must be looked at.
  const edge = `(1 << OCF${n}${o.channel})`
  const low = perBit(i)
    ? [
        `  ${flags} = ${edge};`,
        `  while (!(${flags} & ${edge})) continue; /* the middle of a bit: ${o.pin} is low */`,
      ]
    : [
        `  while (!(PIN${port} & (1 << ${o.pin}))) continue;`,
        `  while (PIN${port} & (1 << ${o.pin})) continue;`,
      ]
  const released =
    o.behaviour === 'pin'
      ? []
      : [
          `  TCCR${n}A &= (uint8_t)~((1 << COM${n}${o.channel}1) | (1 << COM${n}${o.channel}0)); /* ${o.pin} stays low */`,
        ]
  return [
    `/* Stop at the end of a low half, with all pins of the signal low. Waits for it, about ${longest} at most. */`,
    `static inline void ${i.prefix}_stop(void) {`,
    `  if (TCCR${n}B == 0) return;`,
    ...low,
    `  ${mask.register} &= (uint8_t)~${group(mask.value)};`,
    ...released,
    `  ${flags} = ${flagOf(mask.value)};`,
    `  while (!(${flags} & ${flagOf(mask.value)})) continue; /* the end of the half or bit */`,
    `  TCCR${n}B = 0;`,
    `  TCCR${n}A = 0; /* the pins belong to the port again */`,
    ...byPort(pinsOf(i)).map(([p, bits]) => `  PORT${p} &= (uint8_t)~${group(bits)};`),
    '}',
  ]
}

/** The flag of an interrupt, by the name of its enable bit. */
const flagOf = (enable: string) => enable.replace('OCIE', 'OCF').replace('TOIE', 'TOV')
