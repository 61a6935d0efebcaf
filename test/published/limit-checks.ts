/**
 * Checks of the published limits: for each one a signal just inside and just outside, made from the table beside this
 * file, read by the one reader and judged with a profile. `npm run mutate` runs the same checks on profiles with one
 * number moved: each must find it.
 */
import { readFileSync } from 'node:fs'
import {
  type EdgeClock,
  EdgeList,
  ENCODER_CLOCK,
  NOMINAL_TIMING,
  OFF,
  type ReaderOptions,
  readSignal,
  SignalEncoder,
  type SignalTiming,
  signalStatements,
} from '../../src/signal/index.js'
import {
  type ClauseId,
  type Evidence,
  isShown,
  type Limits,
  type Profile,
  type ProfileChoice,
  profileOf,
  type RuleId,
  SCALES,
  signalLimitsOf,
} from '../../src/standard/index.js'

export interface PublishedRow {
  clause?: ClauseId
  rule?: RuleId
  sender?: Limits
  receiver?: Limits
  inService?: Limits
  value?: number
  unit: string
  source: string
  status: string
  unbound?: true
  in: string[]
  scales?: string[]
}

const file = new URL('limits.json', import.meta.url)
export const PUBLISHED: PublishedRow[] = JSON.parse(readFileSync(file, 'utf8')).rows

/** Every edition of every profile, at one scale of each column of the voltage tables, without and with a cut-out. */
export const CHOICES: Required<ProfileChoice>[] = [...new Set(PUBLISHED.flatMap((r) => r.in))]
  .sort()
  .flatMap((name) => {
    const [profile, edition] = name.split(' ') as ['nmra' | 'rcn', string]
    return (['Z', 'N', 'H0', 'G'] as const).flatMap((scale) =>
      [false, true].map((cutout) => ({ profile, edition, scale, cutout })),
    )
  })

export function nameOf({ profile, edition, scale, cutout }: Required<ProfileChoice>): string {
  return `${profile} ${edition} ${scale}${cutout ? ' with cut-out' : ''}`
}

function rowsFor({ profile, edition, scale }: Required<ProfileChoice>): PublishedRow[] {
  const column = SCALES[scale].column
  return PUBLISHED.filter(
    (r) =>
      r.in.includes(`${profile} ${edition}`) &&
      (r.scales === undefined ||
        r.scales.includes(scale) ||
        // The table names one scale of each column, and the gauges of RMS ceilings.
        (r.rule === undefined && r.scales.some((s) => SCALES[s as keyof typeof SCALES].column === column))),
  )
}

/** What a check says when it fails; empty when it passes. */
type Outcome = string[]

export interface LimitCheck {
  /** Clause or rule it is about. */
  id: string
  run(profile: Profile): Outcome
}

const LOCO = [0x03, 0x62, 0x61]
const IDLE = [0xff, 0x00, 0xff]
const RESET = [0, 0, 0]
const RAILS: EdgeClock = { ...ENCODER_CLOCK, shows: 'rails' }
const times = <T>(n: number, x: T): T[] => Array.from({ length: n }, () => x)
const withCheck = (bytes: number[]) => [...bytes, bytes.reduce((a, b) => a ^ b, 0)]

function judged(profile: Profile, edges: EdgeList, options: ReaderOptions, endUs?: number) {
  const limits = signalLimitsOf(profile)
  const end = endUs === undefined ? undefined : endUs * 1000
  const { reading } = readSignal(edges, RAILS, { ...options, limits }, end)
  const about = { origin: 'simulated', source: 'check' } as const
  return signalStatements(reading, profile, about)
}

/** Compares what one clause says of a signal with what it should say. */
function expectVerdict(
  profile: Profile,
  id: ClauseId,
  edges: EdgeList,
  wanted: string,
  what: string,
  options: ReaderOptions = {},
  endUs?: number,
): Outcome {
  const found = judged(profile, edges, options, endUs).find((s) => s.clause === id)
  // Where no sheet binds the sender, what fails is left open.
  const want = wanted === 'broken' && profile.clauses[id].unbound ? 'undecided' : wanted
  if (found?.verdict !== want) return [`${id}: ${what} is ${found?.verdict ?? 'nothing'}, not ${want}`]
  if (want === 'met' || want === 'broken') {
    const { margin } = found as Evidence
    if (want === 'met' ? margin < 0 : margin > 0) return [`${id}: ${what} has margin ${margin}`]
  }
  return []
}

function signal(packets: number[][], timing: Partial<SignalTiming> = {}): EdgeList {
  const encoder = new SignalEncoder({ ...NOMINAL_TIMING, preamble: 20, ...timing })
  for (const bytes of packets) encoder.packet(bytes)
  encoder.ones(2)
  return encoder.finish()
}

/** Packets of which one bit has its own halves. */
function withBit(one: boolean, first: number, second: number): EdgeList {
  const encoder = new SignalEncoder({ ...NOMINAL_TIMING, preamble: 20 })
  for (const p of times(4, LOCO)) encoder.packet(p)
  encoder.ones(20)
  encoder.bit(false)
  for (const [i, byte] of LOCO.entries()) {
    if (i > 0) encoder.bit(false)
    for (let mask = 0x80; mask > 0; mask >>= 1) {
      const value = (byte & mask) !== 0
      const mine = i === 1 && mask === (one ? 0x40 : 0x80)
      if (mine) encoder.bit(value, first, second)
      else encoder.bit(value)
    }
  }
  encoder.bit(true)
  for (const p of times(4, LOCO)) encoder.packet(p)
  encoder.ones(2)
  return encoder.finish()
}

/** A little less and a little more than the limit, finer than the last digit of any. */
const EDGE = 0.2

function halfBits(id: 'one-half' | 'zero-half', row: PublishedRow): LimitCheck {
  const one = id === 'one-half'
  const timing = (us: number) => (one ? { oneHalfUs: us } : { zeroHalfUs: us })
  return {
    id,
    run(profile) {
      const { min = 0, nominal = 0, max = 0 } = row.sender!
      const { min: low = 0, max: high = 0 } = row.receiver!
      const bad: Outcome = []
      const mid = one ? nominal : 200
      const check = (us: number, wanted: string) => {
        const edges = us > 200 ? withBit(one, us, 100) : signal(times(4, LOCO), timing(us))
        bad.push(...expectVerdict(profile, id, edges, wanted, `${us} us`))
      }
      check(min, 'met')
      check(min - EDGE, 'broken')
      check(max, 'met')
      check(max + EDGE, 'broken')
      check(mid, 'met')
      const margin = (us: number) => {
        const list = judged(profile, signal(times(4, LOCO), timing(us)), {})
        const found = list.find((s) => s.clause === id)
        return found && isShown(found) ? found.margin : Number.NaN
      }
      if (margin(nominal) !== 1) bad.push(`${id}: ${nominal} us is not in the middle`)
      if (!(margin(nominal + 0.5) < 1)) bad.push(`${id}: ${nominal + 0.5} us is in the middle`)
      const readable = (us: number) => {
        const edges = us > 200 ? withBit(one, us, 100) : signal(times(4, LOCO), timing(us))
        const found = judged(profile, edges, {}).find((s) => s.clause === id)
        return found?.because.includes('should still read it')
      }
      // Taking one kind for the other begins between the windows: beyond them only the one-sided end is asked.
      for (const [inside, outside] of one
        ? [
            [low, low - EDGE],
            [high, high + EDGE],
          ]
        : [
            [low, low - EDGE],
            [high, high + EDGE],
          ]) {
        if (!readable(inside!)) bad.push(`${id}: decoders need not read ${inside} us`)
        if (readable(outside!)) bad.push(`${id}: decoders must read ${outside} us`)
      }
      return bad
    },
  }
}

/** Gap between two packets to one address: ones after the first. */
function repeats(address: number, gapUs: number): EdgeList {
  const encoder = new SignalEncoder({ ...NOMINAL_TIMING, preamble: 14 })
  const bytes = withCheck([address, 0x74])
  encoder.packet(IDLE)
  encoder.packet(bytes)
  spread(encoder, gapUs)
  encoder.packet(bytes, 0)
  encoder.packet(IDLE)
  encoder.ones(2)
  return encoder.finish()
}

/** Ones that fill a time exactly, each inside its window. */
function spread(encoder: SignalEncoder, us: number): void {
  const count = Math.round(us / 116)
  const start = encoder.timeUs
  for (let i = 1; i <= count; i++) {
    const half = (start + (us * i) / count - encoder.timeUs) / 2
    encoder.bit(true, half, half)
  }
}

function cutouts(startUs: number, endUs: number, preamble = 20): EdgeList {
  const encoder = new SignalEncoder({ ...NOMINAL_TIMING, preamble, cutout: { startUs, endUs } })
  for (const p of times(6, LOCO)) encoder.packet(p)
  encoder.ones(6)
  return encoder.finish()
}

/** The bit clock runs on through the cut-outs, which end with a bit: only the ones sent count. */
function runningCutouts(ones: number): EdgeList {
  const endUs = 4 * 116
  const encoder = new SignalEncoder({ ...NOMINAL_TIMING, preamble: ones - 4, cutout: { startUs: 29, endUs } })
  for (const p of times(6, LOCO)) encoder.packet(p)
  encoder.ones(12)
  return encoder.finish()
}

const ON_ROW: Partial<Record<ClauseId, (row: PublishedRow, choice: Required<ProfileChoice>) => LimitCheck>> =
  {
    'one-half': (row) => halfBits('one-half', row),
    'zero-half': (row) => halfBits('zero-half', row),
    'one-difference': (row) => ({
      id: 'one-difference',
      run(profile) {
        const { max = 0 } = row.sender!
        const { max: high = 0 } = row.receiver!
        const differ = (us: number) => withBit(true, 58 + us / 2, 58 - us / 2)
        const says = (us: number) =>
          judged(profile, differ(us), {}).find((s) => s.clause === 'one-difference')?.because ?? ''
        return [
          ...expectVerdict(profile, 'one-difference', differ(max), 'met', `${max} us`),
          ...expectVerdict(profile, 'one-difference', differ(max + EDGE), 'broken', `${max + EDGE} us`),
          ...(says(high).includes('should still')
            ? []
            : [`one-difference: decoders need not read ${high} us`]),
          ...(says(high + EDGE).includes('should still')
            ? [`one-difference: decoders must read ${high + EDGE} us`]
            : []),
        ]
      },
    }),
    'zero-total': (row) => ({
      id: 'zero-total',
      run(profile) {
        const { max = 0 } = row.sender!
        const total = (us: number) => withBit(false, us / 2, us / 2)
        return [
          ...expectVerdict(profile, 'zero-total', total(max), 'met', `${max} us`),
          ...expectVerdict(profile, 'zero-total', total(max + EDGE), 'broken', `${max + EDGE} us`),
        ]
      },
    }),
    glitch: () => ({
      id: 'glitch',
      run(profile) {
        const clean = signal(times(4, LOCO))
        const edges = new EdgeList()
        for (let i = 0; i < clean.count; i++) {
          edges.add(clean.ticks[i]!, clean.levels[i]!)
          if (i !== 201) continue
          edges.add(clean.ticks[i]! + 20_000, 1 - clean.levels[i]!)
          edges.add(clean.ticks[i]! + 23_000, clean.levels[i]!)
        }
        return [
          ...expectVerdict(profile, 'glitch', clean, 'met', 'a clean signal'),
          ...expectVerdict(profile, 'glitch', edges, 'broken', 'one glitch'),
        ]
      },
    }),
    preamble: (row, { cutout }) => ({
      id: 'preamble',
      run(profile) {
        const id = 'preamble'
        const service = row.inService!.min!
        const bad: Outcome = []
        if (!cutout) {
          const { min = 0 } = row.sender!
          // The end bit before counts as one.
          bad.push(
            ...expectVerdict(
              profile,
              id,
              signal(times(4, LOCO), { preamble: min - 1 }),
              'met',
              `${min} ones`,
            ),
          )
          bad.push(
            ...expectVerdict(
              profile,
              id,
              signal(times(4, LOCO), { preamble: min - 2 }),
              'broken',
              `${min - 1} ones`,
            ),
          )
          const { min: readable = 0 } = row.receiver!
          for (const [ones, may] of [
            [readable, true],
            [readable - 1, false],
          ] as const) {
            const list = judged(profile, signal(times(4, LOCO), { preamble: ones - 1 }), {})
            const says = list.find((s) => s.clause === id)?.because ?? ''
            if (says.includes('should still read it') !== may)
              bad.push(`${id}: ${ones} ones are ${may ? 'not ' : ''}read`)
          }
        }
        const options = { mode: 'service' } as const
        const inService = (ones: number) => signal(times(4, RESET), { preamble: ones - 1 })
        bad.push(
          ...expectVerdict(
            profile,
            id,
            inService(service),
            'met',
            `${service} ones in service mode`,
            options,
          ),
        )
        bad.push(
          ...expectVerdict(
            profile,
            id,
            inService(service - 1),
            'broken',
            `${service - 1} ones in service mode`,
            options,
          ),
        )
        return bad
      },
    }),
    'packet-length': (row) => ({
      id: 'packet-length',
      run(profile) {
        const { min = 0, max = 0 } = row.sender!
        const bytes = (first: number, n: number) => withCheck([first, ...times(n - 2, 0x3f)])
        // Undefined bytes break another clause; the length is what counts here.
        const list = (first: number, n: number) => signal([LOCO, bytes(first, n), LOCO, LOCO])
        return [
          ...expectVerdict(profile, 'packet-length', list(3, min), 'met', `${min} bytes`),
          ...expectVerdict(profile, 'packet-length', list(3, min - 1), 'broken', `${min - 1} bytes`),
          ...expectVerdict(profile, 'packet-length', list(3, max), 'met', `${max} bytes`),
          ...expectVerdict(profile, 'packet-length', list(3, max + 2), 'broken', `${max + 2} bytes`),
          ...expectVerdict(profile, 'packet-length', list(192, max + 1), 'broken', `${max + 1} bytes`),
        ]
      },
    }),
    'error-byte': () => counted('error-byte', signal([LOCO, LOCO]), signal([LOCO, [0x03, 0x62, 0x60], LOCO])),
    framing: () => counted('framing', signal([LOCO, LOCO]), withBit(true, 58, 120)),
    instruction: () =>
      counted('instruction', signal([LOCO, LOCO]), signal([LOCO, withCheck([0x03, 0x30]), LOCO])),
    'same-address-gap': (row) => ({
      id: 'same-address-gap',
      run(profile) {
        const { min = 0 } = row.sender!
        return [
          ...expectVerdict(profile, 'same-address-gap', repeats(115, min + 1), 'met', `${min + 1} us`),
          ...expectVerdict(profile, 'same-address-gap', repeats(115, min - 10), 'broken', `${min - 10} us`),
        ]
      },
    }),
    'packet-interval': (row) => ({
      id: 'packet-interval',
      run(profile) {
        const { max = 0 } = row.sender!
        const apart = (us: number) => {
          const encoder = new SignalEncoder(NOMINAL_TIMING)
          encoder.packet(LOCO)
          const length = encoder.timeUs - 16 * 116
          spread(encoder, us - length)
          encoder.packet(LOCO, 0)
          encoder.ones(2)
          return encoder.finish()
        }
        return [
          ...expectVerdict(profile, 'packet-interval', apart(max), 'met', `${max} us`),
          ...expectVerdict(profile, 'packet-interval', apart(max + 10), 'broken', `${max + 10} us`),
        ]
      },
    }),
    'service-sequence': () => {
      const WRITE = [0x7c, 0x00, 0x03, 0x7f]
      const good = [...times(25, RESET), ...times(5, WRITE), ...times(10, RESET)]
      const poor = [...times(25, RESET), ...times(5, WRITE), ...times(5, RESET), IDLE]
      return {
        id: 'service-sequence',
        run: (profile) => [
          ...expectVerdict(profile, 'service-sequence', signal(good), 'met', 'a write', { mode: 'service' }),
          ...expectVerdict(profile, 'service-sequence', signal(poor), 'broken', 'five recoveries', {
            mode: 'service',
          }),
        ],
      }
    },
    'cutout-start': (row) => cutoutEnd('cutout-start', row, (us) => cutouts(us, 470)),
    'cutout-end': (row) => cutoutEnd('cutout-end', row, (us) => cutouts(29, us)),
    interruption: () => ({
      id: 'interruption',
      run: (profile) => [
        ...expectVerdict(profile, 'interruption', signal(times(4, LOCO)), 'met', 'no break'),
        ...expectVerdict(profile, 'interruption', brokenOff(50), 'broken', 'a break in a packet'),
      ],
    }),
    'start-up': () => ({
      id: 'start-up',
      run(profile) {
        const options = { powerApplied: true }
        const start = [...times(20, RESET), ...times(10, IDLE)]
        return [
          ...expectVerdict(
            profile,
            'start-up',
            signal([...start, LOCO]),
            'met',
            '20 resets, 10 idles',
            options,
          ),
          ...expectVerdict(
            profile,
            'start-up',
            signal([...start.slice(1), LOCO]),
            'broken',
            '19 resets',
            options,
          ),
        ]
      },
    }),
    'reset-guard': (row) => ({
      id: 'reset-guard',
      run(profile) {
        const { min = 0 } = row.sender!
        const after = (us: number) => {
          const encoder = new SignalEncoder(NOMINAL_TIMING)
          encoder.packet(RESET)
          spread(encoder, us)
          encoder.packet(withCheck([110, 0x74]), 0)
          encoder.packet(LOCO)
          encoder.ones(2)
          return encoder.finish()
        }
        return [
          ...expectVerdict(profile, 'reset-guard', after(min + 1), 'met', `${min} us`),
          ...expectVerdict(profile, 'reset-guard', after(min - 10), 'broken', `${min - 10} us`),
        ]
      },
    }),
  }

/** One that should not be there is broken: a count that must be zero. */
function counted(id: ClauseId, good: EdgeList, bad: EdgeList): LimitCheck {
  return {
    id,
    run: (profile) => [
      ...expectVerdict(profile, id, good, 'met', 'none'),
      ...expectVerdict(profile, id, bad, 'broken', 'one'),
    ],
  }
}

function cutoutEnd(id: ClauseId, row: PublishedRow, make: (us: number) => EdgeList): LimitCheck {
  return {
    id,
    run(profile) {
      const { min = 0, max = 0 } = row.sender!
      return [
        [min, 'met'],
        [min - EDGE, 'broken'],
        [max, 'met'],
        [max + EDGE, 'broken'],
      ].flatMap(([us, wanted]) =>
        expectVerdict(profile, id, make(us as number), wanted as string, `${us} us`, { cutout: true }),
      )
    },
  }
}

/** No voltage from some time after the start of a packet, us, or before it. */
function brokenOff(atUs: number, restUs = 8000): EdgeList {
  const encoder = new SignalEncoder({ ...NOMINAL_TIMING, preamble: 20 })
  for (const p of times(3, LOCO)) encoder.packet(p)
  const at = encoder.timeUs + 20 * 116 + atUs
  encoder.packet(LOCO)
  for (const p of times(3, LOCO)) encoder.packet(p)
  return cut(encoder.finish(), at, restUs)
}

function cut(edges: EdgeList, fromUs: number, us: number): EdgeList {
  const out = new EdgeList()
  let level: number = OFF
  let state = 0
  for (let i = 0; i < edges.count; i++) {
    const tick = edges.ticks[i]!
    if (state === 0 && tick >= fromUs * 1000) {
      out.add(fromUs * 1000, OFF)
      state = 1
    }
    if (state === 1 && tick >= (fromUs + us) * 1000) {
      out.add((fromUs + us) * 1000, level)
      state = 2
    }
    level = edges.levels[i]!
    if (state !== 1) out.add(tick, level)
  }
  return out
}

const ON_RULE: Partial<Record<RuleId, (value: number, choice: Required<ProfileChoice>) => LimitCheck>> = {
  'preamble-cutout': (value) => ({
    id: 'preamble-cutout',
    run: (profile) => [
      ...expectVerdict(profile, 'preamble', runningCutouts(value), 'met', `${value} ones`, { cutout: true }),
      ...expectVerdict(profile, 'preamble', runningCutouts(value - 1), 'broken', `${value - 1} ones`, {
        cutout: true,
      }),
    ],
  }),
  'preamble-rejected': (value) => ({
    id: 'preamble-rejected',
    run(profile) {
      // Power that goes off for good after a few ones leaves no packet behind; a preamble that counts is one.
      const ended = (ones: number) => {
        const encoder = new SignalEncoder(NOMINAL_TIMING)
        for (const p of times(4, LOCO)) encoder.packet(p)
        encoder.ones(ones)
        encoder.silence(200_000)
        for (const p of times(4, LOCO)) encoder.packet(p)
        return encoder.finish()
      }
      const power = { complete: true }
      return [
        ...expectVerdict(profile, 'interruption', ended(value - 1), 'met', `${value - 1} ones`, { power }),
        ...expectVerdict(profile, 'interruption', ended(value), 'undecided', `${value} ones`, { power }),
      ]
    },
  }),
  'stream-after-end-bit': (value) => ({
    id: 'stream-after-end-bit',
    run(profile) {
      const off = (us: number) => {
        const encoder = new SignalEncoder({ ...NOMINAL_TIMING, preamble: 20 })
        for (const p of times(3, LOCO)) encoder.packet(p)
        const end = encoder.timeUs
        for (const p of times(4, LOCO)) encoder.packet(p)
        return cut(encoder.finish(), end + us, 8000)
      }
      return [
        ...expectVerdict(profile, 'interruption', off(value), 'met', `${value} us`),
        ...expectVerdict(profile, 'interruption', off(value - EDGE), 'broken', `${value - EDGE} us`),
      ]
    },
  }),
  'reset-guard-first': (value) => barred('reset-guard-first', value, value - 1),
  'reset-guard-last': (value) => barred('reset-guard-last', value, value + 1),
  'same-address-first': (value) => addressed('same-address-first', value, value - 1),
  'same-address-last': (value) => addressed('same-address-last', value, value + 1),
  'long-packet-first': (value) => longer('long-packet-first', value, value - 1),
  'long-packet-last': (value) => longer('long-packet-last', value, value + 1),
  'start-up-resets': (value) => started('start-up-resets', value, 10, -1),
  'start-up-idles': (value) => started('start-up-idles', 20, value, 0),
}

function barred(id: RuleId, inside: number, outside: number): LimitCheck {
  const list = (first: number) => signal([LOCO, RESET, withCheck([first, 0x74, 0x11]), LOCO])
  return {
    id,
    run: (profile) => [
      ...expectVerdict(profile, 'reset-guard', list(inside), 'broken', `first byte ${inside}`),
      ...expectVerdict(profile, 'reset-guard', list(outside), 'met', `first byte ${outside}`),
    ],
  }
}

function addressed(id: RuleId, inside: number, outside: number): LimitCheck {
  return {
    id,
    run: (profile) => [
      ...expectVerdict(profile, 'same-address-gap', repeats(inside, 2000), 'broken', `address ${inside}`),
      ...expectVerdict(
        profile,
        'same-address-gap',
        repeats(outside, 2000),
        'not shown',
        `address ${outside}`,
      ),
    ],
  }
}

function longer(id: RuleId, inside: number, outside: number): LimitCheck {
  // Eight bytes; whether their meaning is defined is another clause.
  const list = (first: number) => signal([LOCO, withCheck([first, 1, 2, 3, 4, 5, 6]), LOCO])
  return {
    id,
    run: (profile) =>
      profile.profile === 'rcn'
        ? []
        : [
            ...expectVerdict(profile, 'packet-length', list(inside), 'met', `first byte ${inside}`),
            ...expectVerdict(profile, 'packet-length', list(outside), 'broken', `first byte ${outside}`),
          ],
  }
}

function started(id: RuleId, resets: number, idles: number, less: -1 | 0): LimitCheck {
  const list = (r: number, i: number) => signal([...times(r, RESET), ...times(i, IDLE), LOCO, LOCO])
  const options = { powerApplied: true }
  const short = less === -1 ? list(resets - 1, idles) : list(resets, idles - 1)
  return {
    id,
    run: (profile) => [
      ...expectVerdict(profile, 'start-up', list(resets, idles), 'met', 'enough', options),
      ...expectVerdict(profile, 'start-up', short, 'broken', 'one too few', options),
    ],
  }
}

/** The numbers, source and status themselves: nothing less is known of limits that no signal here can show. */
function tableCheck(row: PublishedRow): LimitCheck {
  const id = row.clause ?? row.rule!
  return {
    id,
    run(profile) {
      const found = row.clause ? profile.clauses[row.clause] : profile.rules[row.rule!]
      if (!found) return [`${id}: not there`]
      const bad: Outcome = []
      const { document, edition, section, status } = found.source
      const source = `${document}${edition ? `:${edition}` : ''} ${section}`
      if (source !== row.source || status !== row.status) bad.push(`${id}: source ${source}, ${status}`)
      if (found.unit !== row.unit) bad.push(`${id}: in ${found.unit}`)
      if ('value' in found) {
        if (found.value !== row.value) bad.push(`${id}: ${found.value}, not ${row.value}`)
        return bad
      }
      if (found.unbound !== row.unbound) bad.push(`${id}: binds whom?`)
      for (const side of ['sender', 'receiver', 'inService'] as const)
        for (const end of ['min', 'nominal', 'max'] as const)
          if (found[side]?.[end] !== row[side]?.[end])
            bad.push(`${id}: ${side} ${end} ${found[side]?.[end]}, not ${row[side]?.[end]}`)
      return bad
    },
  }
}

export interface ChecksOfChoice {
  choice: Required<ProfileChoice>
  profile: Profile
  /** Signals just inside and just outside. */
  behaviour: LimitCheck[]
  table: LimitCheck[]
}

export function checksFor(choice: Required<ProfileChoice>): ChecksOfChoice {
  const rows = rowsFor(choice)
  const behaviour = rows.flatMap((row) => {
    const check = row.clause
      ? ON_ROW[row.clause]?.(row, choice)
      : row.value === undefined
        ? undefined
        : ON_RULE[row.rule!]?.(row.value, choice)
    return check ? [check] : []
  })
  // With a cut-out the preamble is another one.
  const table = rows
    .map((row) => {
      if (row.clause !== 'preamble' || !choice.cutout) return row
      const longer = rows.find((r) => r.rule === 'preamble-cutout')!
      return { ...row, sender: { min: longer.value! }, source: longer.source, status: longer.status }
    })
    .map(tableCheck)
  return { choice, profile: profileOf(choice), behaviour, table }
}
