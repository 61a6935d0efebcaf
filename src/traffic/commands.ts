/**
 * Who commands what when. Sources generate commands at random times or by script; detectors, the loop of a
 * program and the link delay them on their way to the station. Commands do not depend on the scheduling policy, so
 * that policies are compared on the same ones.
 */
import { type Random, seededRandom } from '../corner/index.js'

/** Kinds of commands. */
export const SPEED = 0
export const STOP = 1
export const FUNCTION = 2
export const TURNOUT = 3
export const COMMAND_KINDS = ['speed', 'stop', 'function', 'turnout'] as const
export type CommandKind = (typeof COMMAND_KINDS)[number]

export type Way = 'panel' | 'link' | 'automation'

/** Commands of one kind that come at random: exponential pauses with a constant rate (a Poisson process). */
export interface CommandSource {
  kind: number
  perSecond: number
  via: Way
  /** Locomotives, or turnouts, one of which is picked each time. */
  targets: Int32Array
  /** Speed commands in one turn of a knob and the time between them. */
  burst: number
  spacingNs: number
  /** Stop it belongs to, −1 for none. */
  stop: number
  /** Before the program can know: a fixed part and a uniform one. */
  delayNs: number
  scanNs: number
}

/** A command of the script. */
export interface ScriptedCommand {
  atNs: number
  /** 0: once. */
  everyNs: number
  kind: number
  target: number
  value: number
  via: Way
}

export interface LinkTiming {
  /** The command's bytes. */
  commandNs: number
  /** After the command until the next may start: the station's pause and its reply. */
  replyNs: number
  /** The program acts at whole multiples of this; 0 at once. */
  loopNs: number
}

export interface CommandPlan {
  seed: number
  sources: readonly CommandSource[]
  script: readonly ScriptedCommand[]
  link: LinkTiming
  /** For picking values: moving steps and highest function of each locomotive. */
  steps: Int32Array
  functions: Int32Array
}

/** Commands in the order they reach the station. */
export interface CommandBlock {
  count: number
  atNs: Float64Array
  /** When the hand moved, or the train passed the detector. */
  bornNs: Float64Array
  kind: Uint8Array
  target: Int32Array
  /** Speed: step | 0x80 forward. Function: its number. Turnout: output 0 or 1. */
  value: Int32Array
  stop: Int32Array
}

/** A link more than this behind is not believed: the program drops commands. */
const LONGEST_BACKLOG_NS = 10e9
const BLOCK_COMMANDS = 2048

/** Makes the commands block by block; two streams of the same plan are equal. */
export class CommandStream {
  /** Commands that a link too slow for them made the program drop. */
  lostAtLink = 0
  /** Time the link was busy, ns. */
  linkBusyNs = 0
  #plan: CommandPlan
  #random: Random
  #next: Float64Array
  #nextScript: Float64Array
  #spanNs: number
  #fromNs = 0
  #linkFreeNs = 0
  /** Born, not yet on the link. */
  #waiting = new Draft()
  /** Past the link, not yet at the station. */
  #arriving = new Draft()

  constructor(plan: CommandPlan) {
    this.#plan = plan
    this.#random = seededRandom(plan.seed)
    this.#next = Float64Array.from(plan.sources, (s) => this.#pauseNs(s))
    this.#nextScript = Float64Array.from(plan.script, (s) => s.atNs)
    const perSecond =
      plan.sources.reduce((sum, s) => sum + s.perSecond * s.burst, 0) +
      plan.script.reduce((sum, s) => sum + (s.everyNs > 0 ? 1e9 / s.everyNs : 0), 0)
    this.#spanNs = Math.min(60e9, Math.max(1e5, (BLOCK_COMMANDS / Math.max(perSecond, 1e-9)) * 1e9))
  }

  /** No command will ever come. */
  get silent(): boolean {
    const never = (at: number) => at === Number.POSITIVE_INFINITY
    const under = this.#waiting.count + this.#arriving.count
    return under === 0 && this.#next.every(never) && this.#nextScript.every(never)
  }

  /** The commands that arrive after those of the call before; may be none. */
  next(): CommandBlock {
    const until = this.#fromNs + this.#spanNs
    this.#bear(until)
    this.#travel(until)
    const block = this.#arriving.takeBefore(until)
    this.#fromNs = until
    return block
  }

  #pauseNs(source: CommandSource): number {
    if (!(source.perSecond > 0) || source.targets.length === 0) return Number.POSITIVE_INFINITY
    return (-Math.log(1 - this.#random.uniform()) / source.perSecond) * 1e9
  }

  #bear(until: number): void {
    const { sources, script } = this.#plan
    for (let i = 0; i < sources.length; i++) {
      const source = sources[i]!
      let at = this.#next[i]!
      for (; at < until; at += this.#pauseNs(source)) this.#commands(source, at)
      this.#next[i] = at
    }
    for (let i = 0; i < script.length; i++) {
      const s = script[i]!
      let at = this.#nextScript[i]!
      while (at < until) {
        this.#start(at, at, s.via, s.kind, s.target, s.value, -1)
        at = s.everyNs > 0 ? at + s.everyNs : Number.POSITIVE_INFINITY
      }
      this.#nextScript[i] = at
    }
  }

  /** What comes of one impulse of a source. */
  #commands(source: CommandSource, at: number): void {
    const random = this.#random
    const target = source.targets[Math.floor(random.uniform() * source.targets.length)]!
    for (let i = 0; i < source.burst; i++) {
      const born = at + i * source.spacingNs
      const known = born + source.delayNs + (source.scanNs > 0 ? random.uniform() * source.scanNs : 0)
      this.#start(born, known, source.via, source.kind, target, this.#value(source.kind, target), source.stop)
    }
  }

  #value(kind: number, target: number): number {
    const u = this.#random.uniform()
    const { steps, functions } = this.#plan
    if (kind === SPEED) return (1 + Math.floor(u * steps[target]!)) | 0x80
    if (kind === FUNCTION) return Math.floor(u * (functions[target]! + 1))
    return kind === TURNOUT && u < 0.5 ? 1 : kind === STOP ? 0x80 : 0
  }

  #start(born: number, known: number, via: Way, kind: number, target: number, value: number, stop: number) {
    const { loopNs } = this.#plan.link
    if (via === 'panel') this.#arriving.add(known, born, kind, target, value, stop)
    else {
      const acts = via === 'automation' && loopNs > 0 ? Math.ceil(known / loopNs) * loopNs : known
      this.#waiting.add(acts, born, kind, target, value, stop)
    }
  }

  /** The link is a queue of its own: one command after the other. */
  #travel(until: number): void {
    if (this.#waiting.count === 0) return
    const { commandNs, replyNs } = this.#plan.link
    const block = this.#waiting.takeBefore(until)
    for (let i = 0; i < block.count; i++) {
      const start = Math.max(block.atNs[i]!, this.#linkFreeNs)
      if (start - block.atNs[i]! > LONGEST_BACKLOG_NS) {
        this.lostAtLink++
        continue
      }
      const there = start + commandNs
      this.#linkFreeNs = there + replyNs
      this.linkBusyNs += commandNs + replyNs
      this.#arriving.add(
        there,
        block.bornNs[i]!,
        block.kind[i]!,
        block.target[i]!,
        block.value[i]!,
        block.stop[i]!,
      )
    }
  }
}

/** Commands being gathered, in any order. */
class Draft {
  count = 0
  #at = new Float64Array(256)
  #born = new Float64Array(256)
  #kind = new Uint8Array(256)
  #target = new Int32Array(256)
  #value = new Int32Array(256)
  #stop = new Int32Array(256)
  #sorted = true

  add(at: number, born: number, kind: number, target: number, value: number, stop: number): void {
    const i = this.count
    if (i === this.#at.length) this.#grow()
    if (i > 0 && at < this.#at[i - 1]!) this.#sorted = false
    this.#at[i] = at
    this.#born[i] = born
    this.#kind[i] = kind
    this.#target[i] = target
    this.#value[i] = value
    this.#stop[i] = stop
    this.count = i + 1
  }

  /** Take out what comes before a time, sorted by time and, at one time, in the order of adding. */
  takeBefore(until: number): CommandBlock {
    if (!this.#sorted) this.#sort()
    let n = this.count
    while (n > 0 && this.#at[n - 1]! >= until) n--
    const block: CommandBlock = {
      count: n,
      atNs: this.#at.slice(0, n),
      bornNs: this.#born.slice(0, n),
      kind: this.#kind.slice(0, n),
      target: this.#target.slice(0, n),
      value: this.#value.slice(0, n),
      stop: this.#stop.slice(0, n),
    }
    for (const a of this.#arrays()) a.copyWithin(0, n, this.count)
    this.count -= n
    return block
  }

  #arrays() {
    return [this.#at, this.#born, this.#kind, this.#target, this.#value, this.#stop] as const
  }

  /** Merges the runs that are there: what was left over is sorted, and so is what one source bore. */
  #sort(): void {
    const n = this.count
    const at = this.#at
    let order = Int32Array.from({ length: n }, (_, i) => i)
    let other = new Int32Array(n)
    for (let runs = 2; runs > 1; ) {
      runs = 0
      for (let from = 0; from < n; ) {
        const middle = endOfRun(at, order, from, n)
        const to = middle < n ? endOfRun(at, order, middle, n) : n
        let i = from
        let j = middle
        for (let k = from; k < to; k++)
          other[k] = j >= to || (i < middle && at[order[i]!]! <= at[order[j]!]!) ? order[i++]! : order[j++]!
        from = to
        runs++
      }
      ;[order, other] = [other, order]
    }
    for (const a of this.#arrays()) {
      const copy = a.slice(0, n)
      for (let i = 0; i < n; i++) a[i] = copy[order[i]!]!
    }
    this.#sorted = true
  }

  #grow(): void {
    const length = this.#at.length * 2
    const wider = <T extends Float64Array | Int32Array | Uint8Array>(a: T, b: T): T => {
      b.set(a)
      return b
    }
    this.#at = wider(this.#at, new Float64Array(length))
    this.#born = wider(this.#born, new Float64Array(length))
    this.#kind = wider(this.#kind, new Uint8Array(length))
    this.#target = wider(this.#target, new Int32Array(length))
    this.#value = wider(this.#value, new Int32Array(length))
    this.#stop = wider(this.#stop, new Int32Array(length))
  }
}

function endOfRun(at: Float64Array, order: Int32Array, from: number, n: number): number {
  let end = from + 1
  while (end < n && at[order[end - 1]!]! <= at[order[end]!]!) end++
  return end
}
