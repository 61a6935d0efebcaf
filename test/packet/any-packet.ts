/** Any packet of any kind, in the form its bytes are read back, for property tests. */
import fc from 'fast-check'
import { type CvAccess, FUNCTION_GROUPS, type Packet, type Target } from '../../src/packet/index.js'

/** A whole number of a range. */
export const int = (min: number, max: number) => fc.integer({ min, max })
const byte = int(0, 255)
export const loco: fc.Arbitrary<Target> = fc.oneof(
  int(1, 127).map((address): Target => ({ kind: 'short', address })),
  int(0, 10239).map((address): Target => ({ kind: 'long', address })),
)
const anyone: fc.Arbitrary<Target> = fc.oneof(loco, fc.constant<Target>({ kind: 'all' }))
const access: fc.Arbitrary<CvAccess> = fc.oneof(
  fc.record({ op: fc.constantFrom('verify' as const), cv: int(1, 1024), value: byte }),
  fc.record({ op: fc.constantFrom('write' as const), cv: int(1, 1024), value: byte }),
  fc.record({
    op: fc.constantFrom('verify-bit' as const, 'write-bit' as const),
    cv: int(1, 1024),
    bit: int(0, 7),
    value: int(0, 1),
  }),
)
export const bool = fc.boolean()
export const stop = (of: number) =>
  fc.oneof(
    fc.record({ step: int(0, of), emergency: fc.constant(false) }),
    fc.record({ step: fc.constant(0), emergency: fc.constant(true) }),
  )
const kind = <K extends Packet['kind']>(k: K) => fc.constant(k)

/** Every kind of packet in the form its bytes are read back. */
export const operations: fc.Arbitrary<Packet>[] = [
  fc.record({ kind: kind('idle') }),
  fc.record({ kind: kind('reset'), target: anyone }),
  fc.record({ kind: kind('hard-reset'), target: anyone }),
  fc.record({
    kind: kind('factory-test'),
    target: anyone,
    flag: int(0, 1),
    data: fc.array(byte, { maxLength: 2 }),
  }),
  fc.record({ kind: kind('flags'), target: anyone, flag: int(0, 1), code: int(0, 15), sub: int(0, 7) }),
  fc.record({ kind: kind('extended-addressing'), target: anyone, on: bool }),
  fc.record({ kind: kind('acknowledgement-request'), target: anyone, on: bool }),
  fc.record({ kind: kind('broadcast-stop'), forward: bool, directionIgnored: bool, immediate: bool }),
  fc.tuple(loco, stop(28), bool, bool).map(([target, s, forward, ignored]): Packet => {
    return {
      kind: 'speed',
      target,
      of: 28,
      ...s,
      forward,
      directionIgnored: ignored && s.step === 0,
      headlight: false,
    }
  }),
  fc
    .tuple(loco, stop(126), bool)
    .map(([target, s, forward]): Packet => ({ kind: 'speed-126', target, ...s, forward })),
  fc.record({ kind: kind('restricted-speed'), target: loco, enabled: bool, code: int(0, 63) }),
  fc.record({ kind: kind('analog-function'), target: loco, output: byte, value: byte }),
  fc
    .tuple(loco, stop(126), bool, fc.array(byte, { minLength: 1, maxLength: 4 }))
    .map(([target, s, forward, functions]): Packet => {
      return { kind: 'speed-and-functions', target, ...s, forward, functions }
    }),
  fc.tuple(loco, fc.constantFrom(...FUNCTION_GROUPS), byte).map(([target, group, bits]): Packet => {
    const size = group === 0 ? 5 : group < 13 ? 4 : 8
    return {
      kind: 'functions',
      target,
      group,
      on: Array.from({ length: size }, (_, i) => group + i).filter((_, i) => bits & (1 << i)),
    }
  }),
  fc.record({
    kind: kind('binary-state'),
    target: anyone,
    state: int(0, 127),
    on: bool,
    form: fc.constant('short' as const),
  }),
  fc.record({
    kind: kind('binary-state'),
    target: anyone,
    state: int(0, 32767),
    on: bool,
    form: fc.constant('long' as const),
  }),
  fc.record({ kind: kind('consist'), target: loco, consist: int(0, 127), reversed: bool }),
  fc.record({ kind: kind('cv'), target: loco, access }),
  fc.record({
    kind: kind('cv-short'),
    target: loco,
    which: fc.constantFrom('CV23' as const, 'CV24' as const),
    values: fc.tuple(byte).map((v) => [...v]),
  }),
  fc.record({
    kind: kind('cv-short'),
    target: loco,
    which: fc.constantFrom('CV17+18' as const, 'CV31+32' as const),
    values: fc.tuple(byte, byte).map((v) => [...v]),
  }),
  fc.record({
    kind: kind('cv-extended'),
    target: loco,
    op: fc.constant('read' as const),
    sequence: int(0, 3),
    cv: int(1, 1 << 24),
    data: fc.array(byte, { maxLength: 4 }),
  }),
  fc.record({
    kind: kind('cv-extended'),
    target: loco,
    op: fc.constantFrom('write' as const, 'bit' as const),
    sequence: int(0, 3),
    cv: int(1, 1 << 24),
    data: fc.array(byte, { minLength: 1, maxLength: 4 }),
  }),
  fc.record({
    kind: kind('layout-time'),
    minute: int(0, 59),
    weekday: int(0, 7),
    hour: int(0, 23),
    update: bool,
    factor: int(0, 63),
  }),
  fc
    .record({ kind: kind('layout-date'), day: int(1, 31), month: int(1, 12), year: int(0, 4095) })
    // The calendar of the platform tells the days that there are.
    .filter(
      ({ day, month, year }) => new Date(Date.UTC(2000 + (year % 400), month - 1, day)).getUTCDate() === day,
    ),
  fc.record({ kind: kind('system-time'), milliseconds: int(0, 65535) }),
  fc.record({ kind: kind('station-capabilities'), data: fc.array(byte, { minLength: 1, maxLength: 3 }) }),
  fc.record({
    kind: kind('accessory'),
    board: fc.oneof(int(0, 510), fc.constant('all' as const)),
    pair: int(0, 3),
    output: int(0, 1),
    on: bool,
  }),
  fc.record({
    kind: kind('extended-accessory'),
    address: fc.oneof(int(0, 2046), fc.constant('all' as const)),
    aspect: byte,
  }),
  fc.record({ kind: kind('accessory-poll'), board: int(0, 510), pair: int(0, 3), extended: bool }),
  fc.record({
    kind: kind('accessory-poll'),
    board: fc.constant(511),
    pair: int(0, 2),
    extended: fc.constant(true),
  }),
  fc.record({
    kind: kind('accessory-cv'),
    board: int(0, 510),
    output: fc.oneof(int(0, 7), fc.constant('whole' as const)),
    access,
  }),
  fc.record({ kind: kind('extended-accessory-cv'), address: int(0, 2046), access }),
  fc.record({ kind: kind('accessory-cv-legacy'), board: int(0, 510), cv: int(1, 1024), value: byte }),
  fc.record({
    kind: fc.constantFrom('advanced-extended' as const, 'automatic-logon' as const),
    data: fc.array(byte, { minLength: 1, maxLength: 4 }),
    crc: fc.constant(false),
  }),
  fc.record({
    kind: fc.constantFrom('advanced-extended' as const, 'automatic-logon' as const),
    data: fc.array(byte, { minLength: 4, maxLength: 253 }),
    crc: fc.constant(true),
  }),
  fc.record({ kind: kind('service-address-query'), address: int(1, 111) }),
  fc.record({ kind: kind('service-lock'), address: int(0, 127) }),
]
/** Every kind that is on a service-mode track alone. */
export const service: fc.Arbitrary<Packet>[] = [
  fc.record({ kind: kind('service-direct'), access }),
  fc.record({
    kind: kind('service-register'),
    op: fc.constantFrom('verify' as const, 'write' as const),
    register: int(1, 8),
    value: byte,
  }),
]

/** Baseline speed read with 14 steps. */
export const speed14: fc.Arbitrary<Packet> = fc
  .tuple(loco, stop(14), bool, bool)
  .map(([target, s, forward, headlight]): Packet => {
    return { kind: 'speed', target, of: 14, ...s, forward, directionIgnored: false, headlight }
  })
