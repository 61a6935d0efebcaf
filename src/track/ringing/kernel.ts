/**
 * One step of all branches and nodes of a ladder, in WebAssembly: a loop over many arrays costs the engines' own compilers several
 * times as much. {@link plainStep} is the same arithmetic in the same order, to the last bit: it serves where there is no
 * WebAssembly, and as the referee.
 */

/** A branch: its current, what flows around its skin effect, four factors, and where it begins and ends. Bytes. */
export const BRANCH = {
  current: 0,
  skin: 8,
  perHenry: 16,
  skinOhm: 24,
  perSkinHenry: 32,
  keep: 40,
  from: 48,
  to: 52,
  size: 56,
} as const
/** A node: its voltage, two factors, its peak, and three branches, each with 1 where its current flows in, −1 where out. Bytes. */
export const NODE = {
  volt: 0,
  perFarad: 8,
  leak: 16,
  peak: 24,
  sign: [32, 40, 48],
  branch: [56, 60, 64],
  size: 72,
} as const

/** Branches begin at 0 and end at `branchEnd`, where nodes begin; places in bytes. */
export type Step = (branchEnd: number, nodeEnd: number) => void

export function plainStep(f: Float64Array, i: Int32Array, branchEnd: number, nodeEnd: number): void {
  for (let at = 0; at < branchEnd; at += BRANCH.size) {
    const k = at >> 3
    const current = f[k]!
    const lost = f[k + 3]! * (current - f[k + 1]!)
    f[k + 1]! += f[k + 4]! * lost
    const across = f[i[(at + BRANCH.from) >> 2]! >> 3]! - f[i[(at + BRANCH.to) >> 2]! >> 3]! - lost
    f[k] = (current + f[k + 2]! * across) * f[k + 5]!
  }
  for (let at = branchEnd; at < nodeEnd; at += NODE.size) {
    const k = at >> 3
    const q = (at + NODE.branch[0]) >> 2
    const into = f[k + 4]! * f[i[q]! >> 3]! + f[k + 5]! * f[i[q + 1]! >> 3]! + f[k + 6]! * f[i[q + 2]! >> 3]!
    const volt = (f[k]! + f[k + 1]! * into) * f[k + 2]!
    f[k] = volt
    if (volt > f[k + 3]!) f[k + 3] = volt
  }
}

/** What both hosts, browsers and Node, have of it. */
interface WebAssemblyHost {
  Memory: new (limits: { initial: number }) => { readonly buffer: ArrayBuffer; grow(pages: number): number }
  Module: new (bytes: Uint8Array) => object
  Instance: new (module: object, imports: object) => { readonly exports: Record<string, unknown> }
}

const PAGE = 65536

/**
 * The memory that steps work in. It belongs to one ladder at a time: whoever comes next copies its own image in.
 */
export class Workplace {
  floats = new Float64Array(0)
  ints = new Int32Array(0)
  step: Step
  #memory: { readonly buffer: ArrayBuffer; grow(pages: number): number } | undefined
  #holder: LadderImage | undefined

  constructor(host = hostsOwn(), arithmetic: 'quickest' | 'plain' = 'quickest') {
    this.step = (branchEnd, nodeEnd) => plainStep(this.floats, this.ints, branchEnd, nodeEnd)
    if (!host || arithmetic === 'plain') return
    try {
      const memory = new host.Memory({ initial: 1 })
      const instance = new host.Instance(new host.Module(MODULE), { own: { memory } })
      this.#memory = memory
      this.step = instance.exports['step'] as Step
    } catch {
      // A page may forbid it.
    }
    this.#look()
  }

  #look(): void {
    const buffer = this.#memory?.buffer ?? new ArrayBuffer(this.floats.byteLength)
    this.floats = new Float64Array(buffer)
    this.ints = new Int32Array(buffer)
  }

  hold(image: LadderImage): void {
    if (this.#holder === image) return
    if (this.#holder) this.#holder.bytes.set(this.#bytes(this.#holder.bytes.length))
    const missing = image.bytes.length - this.floats.byteLength
    if (missing > 0) {
      if (this.#memory) this.#memory.grow(Math.ceil(missing / PAGE))
      else this.floats = new Float64Array(image.bytes.length / 8)
      this.#look()
    }
    this.#bytes(image.bytes.length).set(image.bytes)
    this.#holder = image
  }

  #bytes(length: number): Uint8Array {
    return new Uint8Array(this.floats.buffer, 0, length)
  }
}

/** A ladder's numbers while another one is worked on. */
export interface LadderImage {
  readonly bytes: Uint8Array
}

function hostsOwn(): WebAssemblyHost | undefined {
  return (globalThis as { WebAssembly?: WebAssemblyHost }).WebAssembly
}

/** The module's bytes, by the binary format of the WebAssembly Core Specification. */
const MODULE = assemble()

function assemble(): Uint8Array {
  const name = (text: string) => [text.length, ...[...text].map((c) => c.charCodeAt(0))]
  const section = (id: number, ...content: number[]) => [id, ...unsigned(content.length), ...content]
  const [I32, F64, EMPTY] = [0x7f, 0x7c, 0x40]
  const [branchEnd, nodeEnd, at, current, skin, lost, volt] = [0, 1, 2, 3, 4, 5, 6] as const
  const get = (local: number) => [0x20, local]
  const set = (local: number) => [0x21, local]
  const float = (address: number[], offset: number) => [...address, 0x2b, 3, ...unsigned(offset)]
  const int = (address: number[], offset: number) => [...address, 0x28, 2, ...unsigned(offset)]
  const store = (offset: number, value: number[]) => [...get(at), ...value, 0x39, 3, ...unsigned(offset)]
  const op = (code: number) => (a: number[], b: number[]) => [...a, ...b, code]
  const [plus, minus, times] = [op(0xa0), op(0xa1), op(0xa2)]
  const own = (offset: number) => float(get(at), offset)
  /** A loop over records of one size, at least one. */
  const records = (size: number, end: number, body: number[]) => [
    ...[0x03, EMPTY, ...body],
    ...[...get(at), 0x41, ...signed(size), 0x6a, 0x22, at, ...get(end), 0x49, 0x0d, 0, 0x0b],
  ]
  const branches = records(BRANCH.size, branchEnd, [
    ...[...own(BRANCH.current), ...set(current), ...own(BRANCH.skin), ...set(skin)],
    ...[...times(own(BRANCH.skinOhm), minus(get(current), get(skin))), ...set(lost)],
    ...store(BRANCH.skin, plus(get(skin), times(own(BRANCH.perSkinHenry), get(lost)))),
    ...store(
      BRANCH.current,
      times(
        plus(
          get(current),
          times(
            own(BRANCH.perHenry),
            minus(
              minus(float(int(get(at), BRANCH.from), NODE.volt), float(int(get(at), BRANCH.to), NODE.volt)),
              get(lost),
            ),
          ),
        ),
        own(BRANCH.keep),
      ),
    ),
  ])
  const flow = (which: 0 | 1 | 2) =>
    times(own(NODE.sign[which]), float(int(get(at), NODE.branch[which]), BRANCH.current))
  const nodes = records(NODE.size, nodeEnd, [
    ...times(
      plus(own(NODE.volt), times(own(NODE.perFarad), plus(plus(flow(0), flow(1)), flow(2)))),
      own(NODE.leak),
    ),
    ...set(volt),
    ...store(NODE.volt, get(volt)),
    // The greater of both, as a comparison does it: no peak becomes one that is no number.
    ...store(NODE.peak, [...get(volt), ...own(NODE.peak), ...get(volt), ...own(NODE.peak), 0x64, 0x1b]),
  ])
  const body = [2, 1, I32, 4, F64, ...branches, ...nodes, 0x0b]
  return Uint8Array.from([
    ...[0, 0x61, 0x73, 0x6d, 1, 0, 0, 0],
    ...section(1, 1, 0x60, 2, I32, I32, 0),
    ...section(2, 1, ...name('own'), ...name('memory'), 2, 0, 1),
    ...section(3, 1, 0),
    ...section(7, 1, ...name('step'), 0, 0),
    ...section(10, 1, ...unsigned(body.length), ...body),
  ])
}

/** LEB128. */
function unsigned(value: number): number[] {
  return value < 0x80 ? [value] : [(value & 0x7f) | 0x80, ...unsigned(value >> 7)]
}

function signed(value: number): number[] {
  return value < 0x40 ? [value] : [(value & 0x7f) | 0x80, ...signed(value >> 7)]
}
