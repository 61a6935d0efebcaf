/** The functions of a C header: load, start, stop. Their text, as lines. */
import { formatTimeUs } from '../../units/index.js'
import { countedTop, cutoutLoader } from './cutout-code.js'
import { channelsOf, type HeaderInput, upper, writes } from './header-input.js'

export const perBit = (i: HeaderInput) =>
  i.option.behaviour === 'bit-now' || i.option.behaviour === 'bit-next'

/** Names of the timer's registers: those that the functions write. */
function registersOf(i: HeaderInput) {
  const { option: o } = i
  const n = o.timer.number
  const mask = o.settings.find((s) => s.register.startsWith('TIMSK'))!
  const shared = mask.register === 'TIMSK'
  const control = o.settings.filter((s) => s.register.startsWith('TCCR'))
  return {
    n,
    mask,
    /** Other timers have bits in the same mask and flag register. */
    shared,
    flags: shared ? 'TIFR' : `TIFR${n}`,
    a: control.find((s) => s.register === `TCCR${n}A`)!,
    b: control.find((s) => s.register === `TCCR${n}B`)!,
    strobe: o.timer.kind === 'avr16' ? `TCCR${n}C` : `TCCR${n}B`,
  }
}

/** What the interrupt calls to load the next bit or half, and what it keeps between two calls. */
export function loader(i: HeaderInput): string[] {
  const lines = bitLoader(i)
  return i.cutout ? [...lines, ...cutoutLoader(i)] : lines
}

function bitLoader(i: HeaderInput): string[] {
  const { option: o } = i
  const name = `${i.prefix}_load_${perBit(i) ? 'bit' : 'half'}`
  const head = `static inline __attribute__((always_inline)) void ${name}(bool one) {`
  const vector = `ISR(${upper(i)}_VECTOR)`
  switch (o.behaviour) {
    case 'bit-next':
      return [
        `/* Load the bit after the one that is going out. Call it first thing in ${vector}. */`,
        head,
        ...writes(i, o.loads, 'one'),
        '}',
      ]
    case 'bit-now': {
      const top = o.loads.filter((l) => l.register.startsWith('ICR'))
      const edges = o.loads.filter((l) => !l.register.startsWith('ICR'))
      if (i.cutout) return countedTop(i, edges, head)
      return [
        '/* The bit that is going out: its top is written when it begins, its edges were one bit earlier. */',
        `static bool ${i.prefix}_now = true;`,
        '',
        `/* Load the bit after the one that is going out. Call it first thing in ${vector}, in one source file only. */`,
        head,
        ...writes(i, top, `${i.prefix}_now`),
        ...writes(i, edges, 'one'),
        `  ${i.prefix}_now = one;`,
        '}',
      ]
    }
    case 'half-next':
      return [
        ...noEdge(i),
        '/* Load the half-bit after the one that is going out: twice the same for each bit. */',
        head,
        ...writes(i, o.loads, 'one'),
        '}',
      ]
    case 'pin':
      return [
        ...edge(i),
        '',
        '/* Load the half-bit that has just begun: twice the same for each bit. Work out what it is after the edge, not before. */',
        head,
        ...writes(i, o.loads, 'one'),
        ...(o.inverted === undefined ? [] : [`  ${i.prefix}_twin = ${bitOf(o.inverted)};`]),
        '}',
      ]
    default:
      return [
        ...noEdge(i),
        '/* Load the half-bit that has just begun: twice the same for each bit. Do it before anything slow. */',
        head,
        ...writes(i, o.loads, 'one'),
        '}',
      ]
  }
}

const bitOf = (pin: string) => `(1 << ${pin})`

/** Where hardware makes the edge, the same firmware fits. */
function noEdge(i: HeaderInput): string[] {
  return [
    `/* The timer makes the edges. The function is there so that firmware need not change with the design. */`,
    `static inline __attribute__((always_inline)) void ${i.prefix}_edge(void) {}`,
    '',
  ]
}

/**
 * The edge that software makes. Writing a one to PINx turns the output over in one instruction (data sheet, I/O ports). The
 * opposite pin joins in with the second edge: until the first one both are low.
 */
function edge(i: HeaderInput): string[] {
  const { pin, inverted } = i.option
  const head = [
    `/* Make the edge. Call it first thing in ISR(${upper(i)}_VECTOR), before the next bit is worked out: what stands before`,
    ` * it makes the edge late, and by a varying time if it branches. */`,
    `static inline __attribute__((always_inline)) void ${i.prefix}_edge(void) {`,
  ]
  const barrier =
    '  __asm__ __volatile__("" ::: "memory"); /* nothing that follows is moved before the edge */'
  if (inverted === undefined) return [...head, `  PIN${pin[1]} = ${bitOf(pin)};`, barrier, '}']
  const twin = `${i.prefix}_twin`
  const writes =
    pin[1] === inverted[1]
      ? [`  PIN${pin[1]} = (uint8_t)(${bitOf(pin)} | twin);`]
      : [`  PIN${pin[1]} = ${bitOf(pin)};`, `  PIN${inverted[1]} = twin;`]
  return [
    `/* The bit of ${inverted} once it turns over too; nothing until the first edge of ${pin} has been made. */`,
    `static volatile uint8_t ${twin};`,
    '',
    ...head,
    `  uint8_t twin = ${twin};`,
    ...writes,
    barrier,
    '}',
  ]
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

/** Register writes of `start`, in the order that the hardware needs. */
export function start(i: HeaderInput): string[] {
  const { option: o } = i
  const { n, mask, shared, flags, a, b } = registersOf(i)
  const toggles = o.behaviour === 'half-now' || o.behaviour === 'half-next'
  const pair = o.behaviour === 'half-now' && o.inverted !== undefined
  const lines = [
    ...startComment(i),
    `static inline void ${i.prefix}_start(void) {`,
    `  TCCR${n}B = 0; /* stopped, and in a mode in which the compare registers take values at once */`,
    `  TCCR${n}A = 0;`,
    ...byPort(pinsOf(i)).map(([port, bits]) => `  PORT${port} &= (uint8_t)~${group(bits)};`),
  ]
  if (toggles) lines.push(...outputsLow(i))
  lines.push(...byPort(pinsOf(i)).map(([port, bits]) => `  DDR${port} |= ${bits};`))
  if (o.behaviour === 'bit-now') {
    lines.push(
      `  TCCR${n}B = (1 << WGM${n}3) | (1 << WGM${n}2); /* still stopped; ICR${n} takes values only while it is the top */`,
      i.cutout ? `  ${i.prefix}_top = ${upper(i)}_ICR${n}_ONE;` : `  ${i.prefix}_now = true;`,
    )
  }
  if (o.behaviour === 'pin' && o.inverted !== undefined) lines.push(`  ${i.prefix}_twin = 0;`)
  for (const l of o.loads) lines.push(`  ${l.register} = ${upper(i)}_${l.register}_ONE;`)
  lines.push(firstCount(i))
  lines.push(
    pair
      ? `  TCCR${n}A = ${firstCompare(i)}; /* the first compare sets ${o.pin} and leaves ${o.inverted} low */`
      : `  TCCR${n}A = ${a.value}; /* ${hex(a.number)}: ${a.says} */`,
  )
  lines.push(`  ${flags} = ${flagOf(mask.value)}; /* forget what came before */`)
  lines.push(`  ${mask.register} ${shared ? '|=' : '='} ${mask.value}; /* ${mask.says} */`)
  lines.push(`  TCCR${n}B = ${b.value}; /* ${hex(b.number)}: ${b.says} */`)
  if (pair) {
    lines.push(
      `  while (!(${flags} & ${flagOf(mask.value)})) continue; /* the first edge; its interrupt waits for sei() */`,
      `  TCCR${n}A = ${a.value}; /* ${hex(a.number)}: ${a.says}, both of them from now on */`,
    )
  }
  if (o.behaviour === 'half-next') {
    lines.push(
      `  while (!(${flags} & ${flagOf(mask.value)})) continue; /* the first edge: both halves of the first one are loaded, */`,
      `  ${flags} = ${flagOf(mask.value)}; /* so the first interrupt is that of the second edge */`,
    )
  }
  lines.push('}')
  return lines
}

function startComment(i: HeaderInput): string[] {
  const { pin, inverted, behaviour } = i.option
  const low = inverted === undefined ? `${pin} is low` : `${pin} and ${inverted} are low`
  const first =
    behaviour === 'pin'
      ? `The first edge is one half-bit later: call sei() before that.`
      : `The first edge comes within three ticks of the timer: call sei() next.`
  return [
    `/* Set up pins and timer and start with ones, in one source file. Until the first edge ${low}; before this call,`,
    ` * and in reset, nothing drives them. ${first} */`,
  ]
}

/** Where the counter starts: just before the first edge that hardware makes, or one half before the first interrupt. */
function firstCount(i: HeaderInput): string {
  const { option: o } = i
  const n = o.timer.number
  const top = o.loads.at(-1)!
  const ahead = Math.min(2, top.one)
  return o.behaviour === 'pin'
    ? `  TCNT${n} = 0;`
    : `  TCNT${n} = ${upper(i)}_${top.register}_ONE - ${ahead}; /* just before the first ${perBit(i) ? 'bit, which sets the output' : 'edge'} */`
}

const hex = (n: number | undefined) => `0x${(n ?? 0).toString(16).toUpperCase().padStart(2, '0')}`

/** A toggled output begins from the level that the last compare left: make that low by a forced compare. */
function outputsLow(i: HeaderInput): string[] {
  const { n, strobe } = registersOf(i)
  const channels = channelsOf(i)
  const clear = channels.map((c) => `(1 << COM${n}${c}1)`).join(' | ')
  const force = channels.map((c) => `(1 << FOC${n}${c})`).join(' | ')
  return [
    `  TCCR${n}A = ${clear}; /* a compare clears the output … */`,
    `  ${strobe} = ${force}; /* … and is forced here */`,
  ]
}

/** Compare outputs of a pair until the first edge: set on the main channel, clear on the other. */
function firstCompare(i: HeaderInput): string {
  const { n, a } = registersOf(i)
  const [main, twin] = channelsOf(i)
  // The waveform mode of an 8-bit timer is in the same register.
  const mode = a.value.split(' | ').filter((bit) => !bit.includes('COM'))
  return [`(1 << COM${n}${main}1)`, `(1 << COM${n}${main}0)`, `(1 << COM${n}${twin}1)`, ...mode].join(' | ')
}

/**
 * Stop at the end of a low half: then neither pin makes a half-bit that is none. The main pin is taken from the timer while
 * it is low anyway; its opposite falls when the run of the counter ends.
 */
export function stop(i: HeaderInput): string[] {
  const { option: o } = i
  const { n, mask, flags } = registersOf(i)
  const port = o.pin[1]!
  const longest = formatTimeUs(4 * Math.max(o.one.us, o.zero.us) + (i.cutout?.endUs ?? 0), 3)
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
