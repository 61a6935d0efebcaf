/**
 * The loop over plain rows in WebAssembly: up to fifteen digits, eight at a time in one number of 64 bits, and what stands before and
 * behind them compared at once. The engines' own compilers have no such number and look at each byte's bounds.
 */
import { wasm } from '../units/index.js'

type Code = wasm.Code
const { get, set, op, whole, long, unsigned } = wasm
const { i32: I32, i64: I64, f64: F64, empty: EMPTY } = wasm.TYPE

/** Edges that one run finds at most. */
export const MOST_EDGES = 16_384

/** Where things lie in the memory: the shape of a row, what a run leaves, the edges, and the bytes. */
export const PLACE = {
  headMask: 0,
  headBytes: 8,
  tailMask: 16,
  tailLow: 24,
  tailHigh: 32,
  /** How far the first digits of more than eight are moved up, bits, and the last eight. */
  shiftFirst: 40,
  shiftLast: 48,
  headLength: 56,
  tailLength: 60,
  first: 64,
  last: 68,
  count: 72,
  level: 76,
  time: 80,
  rows: 88,
  ticks: 128,
  levels: 128 + 8 * MOST_EDGES,
  bytes: 128 + 9 * MOST_EDGES,
} as const

/** The parameters: from and to which byte, for how many edges there is room, the level and time now, the tick of the head, a gap. */
const [at, to, room, level, time, headTick, gap] = [0, 1, 2, 3, 4, 5, 6] as const
const PARAMETERS = [I32, I32, I32, I32, F64, F64, F64]
const [headLength, tailLength, first, last, place, value, rows, count] = [
  7, 8, 9, 10, 11, 12, 13, 14,
] as const
const [headMask, headBytes, tailMask, tailLow, tailHigh, shiftFirst, shiftLast, digits, whole8] = [
  15, 16, 17, 18, 19, 20, 21, 22, 23,
] as const
const tick = 24
const LOCALS = [
  [8, I32],
  [9, I64],
  [1, F64],
] as const

const [sum, isPast, differ, either, up] = [op(0x6a), op(0x4f), op(0x47), op(0x72), op(0x74)] as const
const [plus, minus, later] = [op(0xa0), op(0xa1), op(0x64)] as const
/** Of 64 bits. */
const [add, times, and, or, xor, left, right, same, other] = [
  ...[op(0x7c), op(0x7e), op(0x83), op(0x84), op(0x85)],
  ...[op(0x86), op(0x88), op(0x51), op(0x52)],
] as const
const not = (condition: Code): Code => [...condition, 0x45]
const int = (offset: number): Code => [...whole(0), 0x28, 2, ...unsigned(offset)]
const eight = (address: Code, offset = 0): Code => [...address, 0x29, 0, ...unsigned(offset)]
const toFloat = (value: Code): Code => [...value, 0xb9]
const leave = (depth: number, condition: Code): Code => [...condition, 0x0d, depth]

const ZEROS = 0x3030303030303030n
const SIXES = 0x7676767676767676n
const TOPS = 0x8080808080808080n

/** Digits from `place` on, the first in the lowest byte: what comes behind them is moved out, and noughts come before them. */
const read = (shift: number, depth: number): Code => [
  ...set(digits, left(xor(eight(get(place)), long(ZEROS)), get(shift))),
  ...leave(depth, other(and(or(add(get(digits), long(SIXES)), get(digits)), long(TOPS)), long(0n))),
]
/** Bytes become numbers of two digits, those become numbers of four, and those one of eight. */
const number = [
  [2561n, 8n, 0x00ff00ff00ff00ffn],
  [6553601n, 16n, 0x0000ffff0000ffffn],
  [42949672960001n, 32n, 0xffffffffn],
].reduce<Code>(
  (code, [factor, shift, mask]) => and(right(times(code, long(factor!)), long(shift!)), long(mask!)),
  get(digits),
)

const row: Code = [
  ...leave(1, isPast(get(at), get(to))),
  ...leave(1, isPast(get(count), get(room))),
  ...leave(1, other(and(eight(get(at)), get(headMask)), get(headBytes))),
  ...set(place, sum(get(at), get(headLength))),
  ...set(whole8, long(0n)),
  ...[...get(first), 0x04, EMPTY],
  ...read(shiftFirst, 2),
  ...set(whole8, times(number, long(100_000_000n))),
  ...set(place, sum(get(place), get(first))),
  0x0b,
  ...read(shiftLast, 1),
  ...set(place, sum(get(place), get(last))),
  ...set(tick, plus(get(headTick), toFloat(add(get(whole8), number)))),
  ...set(digits, and(eight(get(place)), get(tailMask))),
  ...set(value, same(get(digits), get(tailHigh))),
  ...leave(1, not(either(get(value), same(get(digits), get(tailLow))))),
  ...leave(1, not(later(get(tick), get(time)))),
  ...leave(1, later(minus(get(tick), get(time)), get(gap))),
  ...set(time, get(tick)),
  ...set(rows, sum(get(rows), whole(1))),
  ...set(at, sum(get(place), get(tailLength))),
  // Written in any case, and counted where the level changes: whether it does is chance.
  ...[...up(get(count), whole(3)), ...get(tick), 0x39, 3, ...unsigned(PLACE.ticks)],
  ...[...get(count), ...get(value), 0x3a, 0, ...unsigned(PLACE.levels)],
  ...set(count, sum(get(count), differ(get(value), get(level)))),
  ...set(level, get(value)),
]

const leaveInt = (offset: number, local: number): Code => [
  ...[...whole(0), ...get(local), 0x36, 2, ...unsigned(offset)],
]

/** The module's bytes. Its function gives where a row begins that is not plain, or where there was no more room or bytes. */
export const plainRowsModule = () =>
  wasm.moduleOf(PARAMETERS, [I32], LOCALS, [
    ...set(headLength, int(PLACE.headLength)),
    ...set(tailLength, int(PLACE.tailLength)),
    ...set(first, int(PLACE.first)),
    ...set(last, int(PLACE.last)),
    ...set(headMask, eight(whole(0), PLACE.headMask)),
    ...set(headBytes, eight(whole(0), PLACE.headBytes)),
    ...set(tailMask, eight(whole(0), PLACE.tailMask)),
    ...set(tailLow, eight(whole(0), PLACE.tailLow)),
    ...set(tailHigh, eight(whole(0), PLACE.tailHigh)),
    ...set(shiftFirst, eight(whole(0), PLACE.shiftFirst)),
    ...set(shiftLast, eight(whole(0), PLACE.shiftLast)),
    ...[0x02, EMPTY, 0x03, EMPTY, ...row, 0x0c, 0, 0x0b, 0x0b],
    ...leaveInt(PLACE.count, count),
    ...leaveInt(PLACE.level, level),
    ...leaveInt(PLACE.rows, rows),
    ...[...whole(0), ...get(time), 0x39, 3, ...unsigned(PLACE.time)],
    ...get(at),
  ])
