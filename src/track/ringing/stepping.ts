/**
 * Steps of a ladder in WebAssembly, two branches or nodes at a time: the arithmetic of {@link PlainLadder} in the same order for each of
 * them, to the last bit. A loop over many arrays costs the engines' own compilers several times as much.
 */
import { wasm } from '../../units/index.js'
import {
  APART,
  BRANCH,
  BRANCH_PAIR,
  BRIDGED,
  FLOW,
  HEADER,
  NODE,
  NODE_PAIR,
  TERMINATED,
} from './ladder-image.js'
import { BRIDGE, EDGE_AT_US } from './plain-ladder.js'

type Code = wasm.Code

const { get, set, op, whole, unsigned, float: constant } = wasm
const { i32: I32, f64: F64, v128: V128, empty: EMPTY } = wasm.TYPE
/** Where records begin, where each kind ends, and the steps from one to the other. */
const [start, branchPairs, branches, linePairs, teePairs, nodes, apart, bridges, terminators, step, until] = [
  0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10,
] as const
const PARAMETERS = 11
const [at, flow] = [11, 12] as const
const [x, y, z] = [13, 14, 15] as const
const [u, v] = [16, 17] as const

const float = (offset: number, address = get(at)): Code => [...address, 0x2b, 3, ...unsigned(offset)]
const int = (offset: number, address = get(at)): Code => [...address, 0x28, 2, ...unsigned(offset)]
const store = (offset: number, value: Code, address = get(at)): Code => [
  ...[...address, ...value],
  ...[0x39, 3, ...unsigned(offset)],
]
const [plus, minus, times, by, least, most] = [
  op(0xa0),
  op(0xa1),
  op(0xa2),
  op(0xa3),
  op(0xa4),
  op(0xa5),
] as const
const [below, above, upTo, withSignOf] = [op(0x63), op(0x64), op(0x65), op(0xa6)] as const
const [sum, isPast] = [op(0x6a), op(0x4f)] as const
/** Two numbers at once. */
const two = {
  load: (offset: number, address = get(at)): Code => [...address, 0xfd, 0, 3, ...unsigned(offset)],
  store: (offset: number, value: Code, address = get(at)): Code => [
    ...[...address, ...value],
    ...[0xfd, 0x0b, 3, ...unsigned(offset)],
  ],
  plus: op(0xfd, 0xf0, 1),
  minus: op(0xfd, 0xf1, 1),
  times: op(0xfd, 0xf2, 1),
  /** The second where it is greater. */
  greater: op(0xfd, 0xf7, 1),
}
const when = (condition: Code, then: Code): Code => [...condition, 0x04, EMPTY, ...then, 0x0b]
const before = (local: number, end: Code, size: number, body: Code): Code => [
  ...[0x02, EMPTY, 0x03, EMPTY, ...isPast(get(local), end), 0x0d, 1],
  ...[...body, ...set(local, sum(get(local), whole(size))), 0x0c, 0, 0x0b, 0x0b],
]
const records = (end: number, size: number, body: Code): Code => before(at, get(end), size, body)

const branchPair: Code = [
  ...set(u, two.load(0, int(BRANCH_PAIR.current))),
  ...set(v, two.times(two.load(BRANCH_PAIR.skinOhm), two.minus(get(u), two.load(BRANCH_PAIR.skin)))),
  ...two.store(
    BRANCH_PAIR.skin,
    two.plus(two.load(BRANCH_PAIR.skin), two.times(two.load(BRANCH_PAIR.perSkinHenry), get(v))),
  ),
  ...two.store(
    0,
    two.times(
      two.plus(
        get(u),
        two.times(
          two.load(BRANCH_PAIR.perHenry),
          two.minus(two.minus(two.load(0, int(BRANCH_PAIR.from)), two.load(0, int(BRANCH_PAIR.to))), get(v)),
        ),
      ),
      two.load(BRANCH_PAIR.keep),
    ),
    int(BRANCH_PAIR.current),
  ),
]

const branch: Code = [
  ...set(x, float(0, int(BRANCH.current))),
  ...set(y, times(float(BRANCH.skinOhm), minus(get(x), float(BRANCH.skin)))),
  ...store(BRANCH.skin, plus(float(BRANCH.skin), times(float(BRANCH.perSkinHenry), get(y)))),
  ...store(
    0,
    times(
      plus(
        get(x),
        times(
          float(BRANCH.perHenry),
          minus(minus(float(0, int(BRANCH.from)), float(0, int(BRANCH.to))), get(y)),
        ),
      ),
      float(BRANCH.keep),
    ),
    int(BRANCH.current),
  ),
]

const pairFlow = (which: 0 | 1 | 2): Code => two.load(0, int(NODE_PAIR.branch[which]))
const nodePair = (into: Code): Code => [
  ...set(
    u,
    two.times(
      two.plus(two.load(0, int(NODE_PAIR.volt)), two.times(two.load(NODE_PAIR.perFarad), into)),
      two.load(NODE_PAIR.leak),
    ),
  ),
  ...two.store(0, get(u), int(NODE_PAIR.volt)),
  ...two.store(NODE_PAIR.peak, two.greater(two.load(NODE_PAIR.peak), get(u))),
]
const line = two.minus(pairFlow(0), pairFlow(1))

const nodeFlow = (which: 0 | 1 | 2): Code => times(float(NODE.sign[which]), float(0, int(NODE.branch[which])))
const node: Code = [
  ...set(
    x,
    times(
      plus(
        float(0, int(NODE.volt)),
        times(float(NODE.perFarad), plus(plus(nodeFlow(0), nodeFlow(1)), nodeFlow(2))),
      ),
      float(NODE.leak),
    ),
  ),
  ...store(0, get(x), int(NODE.volt)),
  ...when(above(get(x), float(NODE.peak)), store(NODE.peak, get(x))),
]

const apartNode: Code = [
  ...set(x, constant(0)),
  ...set(flow, int(APART.first)),
  ...before(flow, int(APART.end), FLOW.size, [
    ...set(x, plus(get(x), times(float(FLOW.sign, get(flow)), float(0, int(FLOW.current, get(flow)))))),
  ]),
  ...store(
    0,
    times(plus(float(0, int(APART.volt)), times(float(APART.perFarad), get(x))), float(APART.leak)),
    int(APART.volt),
  ),
]

const header = (offset: number) => float(offset, whole(0))
/** The driver's node is stiff, so implicit. */
const driver: Code = [
  ...set(x, times([...sum(get(step), whole(1)), 0xb8], header(HEADER.dt))),
  ...set(x, by(minus(times(get(x), constant(1e6)), constant(EDGE_AT_US)), header(HEADER.edgeUs))),
  ...set(x, least(constant(1), most(constant(0), get(x)))),
  ...set(x, times(header(HEADER.volt), minus(times(constant(2), get(x)), constant(1)))),
  ...store(
    HEADER.size,
    by(plus(header(HEADER.size), times(header(HEADER.push), get(x))), header(HEADER.whole)),
    whole(0),
  ),
]

const bridge: Code = [
  ...set(x, [...float(0, int(BRIDGED.volt)), 0x99]),
  ...set(y, plus(float(BRIDGED.reservoir), constant(BRIDGE.volt))),
  ...set(z, get(x)),
  ...when(
    [...upTo(get(x), get(y)), 0x45],
    set(z, by(plus(get(x), times(float(BRIDGED.k), get(y))), float(BRIDGED.whole))),
  ),
  ...when(
    below(get(z), get(x)),
    store(0, withSignOf(get(z), float(0, int(BRIDGED.volt))), int(BRIDGED.volt)),
  ),
  ...set(
    x,
    by(
      most(constant(0), minus(minus(get(z), float(BRIDGED.reservoir)), constant(BRIDGE.volt))),
      constant(BRIDGE.ohm),
    ),
  ),
  ...store(
    BRIDGED.reservoir,
    plus(float(BRIDGED.reservoir), times(float(BRIDGED.share), minus(get(x), float(BRIDGED.amp)))),
  ),
]

const terminator: Code = [
  ...set(
    x,
    by(
      plus(float(0, int(TERMINATED.volt)), times(float(TERMINATED.k), float(TERMINATED.charge))),
      float(TERMINATED.whole),
    ),
  ),
  ...store(0, get(x), int(TERMINATED.volt)),
  ...store(
    TERMINATED.charge,
    plus(float(TERMINATED.charge), times(float(TERMINATED.share), minus(get(x), float(TERMINATED.charge)))),
  ),
]

const apartPeak: Code = [
  ...set(x, float(0, int(APART.volt))),
  ...when(above(get(x), float(APART.peak)), store(APART.peak, get(x))),
]

const oneStep: Code = [
  ...set(at, get(start)),
  ...records(branchPairs, BRANCH_PAIR.size, branchPair),
  ...records(branches, BRANCH.size, branch),
  ...records(linePairs, NODE_PAIR.size, nodePair(line)),
  ...records(teePairs, NODE_PAIR.size, nodePair(two.minus(line, pairFlow(2)))),
  ...records(nodes, NODE.size, node),
  ...records(apart, APART.size, apartNode),
  ...driver,
  ...records(bridges, BRIDGED.size, bridge),
  ...records(terminators, TERMINATED.size, terminator),
  ...set(at, get(nodes)),
  ...records(apart, APART.size, apartPeak),
]

/** The module's bytes. */
export const STEPPING = wasm.moduleOf(
  Array<number>(PARAMETERS).fill(I32),
  [],
  [
    [2, I32],
    [3, F64],
    [2, V128],
  ],
  before(step, get(until), 1, oneStep),
)
