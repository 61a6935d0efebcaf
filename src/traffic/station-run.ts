/**
 * The simulated station: packet after packet, each for as long as its bits last. Nothing is allocated per packet;
 * times are whole nanoseconds held in doubles.
 */
import { seededRandom } from '../corner/index.js'
import { type CommandBlock, type CommandStream, FUNCTION, SPEED, STOP, TURNOUT } from './commands.js'
import { bitOfFunction, ITEM_COUNT, itemOfFunction } from './packets.js'
import { Ring } from './ring.js'
import { Samples } from './samples.js'

export const CYCLE = 0
export const CHANGES = 1
export const WEIGHTED = 2

/**
 * What may be sent has a number: locomotive · ITEM_COUNT + item, then one per turnout. What listens has one too:
 * the locomotives, then accessory boards.
 */
export interface StationPlan {
  locomotives: number
  turnouts: number
  /** Who listens to what, by item number. */
  addressOf: Int32Array
  addresses: number
  /** Item numbers refreshed for each locomotive: table[tableStart[i] … tableStart[i + 1]). */
  tableStart: Int32Array
  table: Int32Array
  /** Values at the start, by item number. */
  values: Int32Array
  order: number
  perVisit: number
  merge: boolean
  stopsFirst: boolean
  capacity: number
  gapNs: number
  /** Packets of a command, the first among them, by its kind. */
  copies: Int32Array
  /** Of changes, moving, standing, functions. */
  weights: Int32Array
  preambleNs: number
  cutoutNs: number
  /** Start bit to end bit of an idle packet; 0: the track waits in silence for the next command. */
  idleNs: number
  /** Start bit to end bit of a packet with that value. */
  packetNs(item: number, value: number): number
  /** Limit under which two packets to one address are counted as too near. */
  nearNs: number
  lost: number
  lostSeed: number
}

/** Content of packets. */
export const CONTENTS = ['speed', 'functions', 'turnouts', 'idle'] as const
/** Why a packet is sent. */
export const REASONS = ['change', 'repeat', 'refresh', 'idle'] as const

const FREE = 0
const FRESH = 1
const REPEAT = 2
/** Waits for the packet that the cycle sends anyway. */
const RESTING = 3

/** What happened since the last {@link StationRun.clear}. */
export interface RunCounts {
  packets: number
  timeNs: number
  /** By content, then by reason. */
  sent: Float64Array
  /** Time on the track by content, ns. */
  busyNs: Float64Array
  commands: Float64Array
  superseded: number
  /** Found the queue full. */
  lostFull: number
  /** Not one of its packets was heard and nothing repeats it. */
  neverHeard: number
  depthSum: number
  depthMax: number
  gapMinNs: number
  gapMinAtNs: number
  gapMinAddress: number
  gaps: number
  gapsBroken: number
  intervalMinNs: number
  intervalMaxNs: number
  intervalMaxAtNs: number
}

/** The first packets after the warm-up, for the timeline. */
export interface Trace {
  count: number
  startNs: Float64Array
  endNs: Float64Array
  /** −1: idle. */
  address: Int32Array
  content: Uint8Array
  reason: Uint8Array
}

const TRACE = 400
/** What a pick may be besides an item: nobody may hear a packet now, or nothing was picked. */
const NOBODY_NOW = -1
const NOT_PICKED = -2

export class StationRun {
  counts: RunCounts = emptyCounts()
  /** Arrival at the station → end of the first packet that was heard, ns, by kind of command. */
  readonly first = Array.from({ length: 4 }, () => new Samples())
  /** Arrival → end of the last packet of the series. */
  readonly last = Array.from({ length: 4 }, () => new Samples())
  /** Hand or detector → end of the first packet that was heard. */
  readonly whole = Array.from({ length: 4 }, () => new Samples())
  /** The same for stops of a named place: which, whom, how long. */
  readonly stopPlace = new Samples()
  readonly stopWhom = new Samples()
  readonly stopNs = new Samples()
  /** Refresh of each locomotive: longest pause between heard packets, sum and count. */
  readonly worstNs: Float64Array
  readonly worstAtNs: Float64Array
  readonly sumNs: Float64Array
  readonly heard: Float64Array
  readonly trace: Trace = {
    count: 0,
    startNs: new Float64Array(TRACE),
    endNs: new Float64Array(TRACE),
    address: new Int32Array(TRACE),
    content: new Uint8Array(TRACE),
    reason: new Uint8Array(TRACE),
  }
  readonly #plainly: boolean
  readonly #plan: StationPlan
  readonly #commands: CommandStream
  readonly #random: () => number
  #block: CommandBlock
  #blockAt = 0
  #nowNs = 0
  #clearedNs = 0
  #lastStartNs = Number.NaN
  /** State of what is sent. */
  readonly #values: Int32Array
  readonly #ns: Float64Array
  readonly #inTable: Uint8Array
  /** Index in {@link CONTENTS}. */
  readonly #contentOf: Uint8Array
  readonly #pending: Int32Array
  /** State of who listens. */
  readonly #lastEnd: Float64Array
  readonly #heardAt: Float64Array
  /** Jobs: commands under way. */
  readonly #jobItem: Int32Array
  readonly #jobKind: Uint8Array
  readonly #jobState: Uint8Array
  readonly #jobLeft: Int32Array
  readonly #jobSent: Uint8Array
  readonly #jobHeard: Uint8Array
  readonly #jobNs: Float64Array
  readonly #jobAt: Float64Array
  readonly #jobBorn: Float64Array
  readonly #jobStop: Int32Array
  readonly #free: Int32Array
  #freeCount: number
  readonly #fresh: Ring
  readonly #repeats: Ring
  /** Cycle. */
  #locomotive: number
  #visitLeft = 0
  #jobTurn = false
  readonly #position: Int32Array
  /** Weighted. */
  readonly #credits = new Float64Array(4)
  readonly #moving: Int32Array
  readonly #standing: Int32Array
  #movingCount = 0
  #standingCount = 0
  readonly #listAt: Int32Array
  readonly #isMoving: Uint8Array
  readonly #withFunctions: number[] = []
  readonly #turn = new Int32Array(4)

  /** @param plainly take every packet the long way: the referee of the quick loop. */
  constructor(plan: StationPlan, commands: CommandStream, plainly = false) {
    this.#plainly = plainly
    this.#plan = plan
    this.#commands = commands
    this.#random = seededRandom(plan.lostSeed).uniform
    const items = plan.addressOf.length
    this.#values = plan.values.slice()
    this.#ns = new Float64Array(items)
    this.#inTable = new Uint8Array(items)
    this.#pending = new Int32Array(items).fill(-1)
    this.#contentOf = new Uint8Array(items)
    const ofLocomotives = plan.locomotives * ITEM_COUNT
    for (let id = 0; id < items; id++)
      this.#contentOf[id] = id >= ofLocomotives ? 2 : id % ITEM_COUNT === 0 ? 0 : 1
    for (const id of plan.table) this.#inTable[id] = 1
    for (let id = 0; id < items; id++)
      if (this.#inTable[id]) this.#ns[id] = plan.packetNs(id, plan.values[id]!)
    this.#lastEnd = new Float64Array(plan.addresses).fill(Number.NEGATIVE_INFINITY)
    this.#heardAt = new Float64Array(plan.locomotives)
    this.worstNs = new Float64Array(plan.locomotives)
    this.worstAtNs = new Float64Array(plan.locomotives)
    this.sumNs = new Float64Array(plan.locomotives)
    this.heard = new Float64Array(plan.locomotives)
    const jobs = items + plan.capacity + 1
    this.#jobItem = new Int32Array(jobs)
    this.#jobKind = new Uint8Array(jobs)
    this.#jobState = new Uint8Array(jobs)
    this.#jobLeft = new Int32Array(jobs)
    this.#jobSent = new Uint8Array(jobs)
    this.#jobHeard = new Uint8Array(jobs)
    this.#jobNs = new Float64Array(jobs)
    this.#jobAt = new Float64Array(jobs)
    this.#jobBorn = new Float64Array(jobs)
    this.#jobStop = new Int32Array(jobs)
    this.#free = Int32Array.from({ length: jobs }, (_, i) => jobs - 1 - i)
    this.#freeCount = jobs
    this.#fresh = new Ring(plan.capacity + 1)
    this.#repeats = new Ring(plan.capacity + 1)
    this.#locomotive = plan.locomotives - 1
    this.#position = new Int32Array(plan.locomotives)
    this.#moving = new Int32Array(plan.locomotives)
    this.#standing = new Int32Array(plan.locomotives)
    this.#listAt = new Int32Array(plan.locomotives)
    this.#isMoving = new Uint8Array(plan.locomotives)
    for (let a = 0; a < plan.locomotives; a++) {
      this.#listAt[a] = this.#standingCount
      this.#standing[this.#standingCount++] = a
      if ((plan.values[a * ITEM_COUNT]! & 0x7f) > 0) this.#setMoving(a, true)
      for (let i = plan.tableStart[a]!; i < plan.tableStart[a + 1]!; i++)
        if (plan.table[i]! % ITEM_COUNT > 0) {
          this.#withFunctions.push(a)
          break
        }
    }
    this.#block = commands.next()
  }

  get nowNs(): number {
    return this.#nowNs
  }

  /** Forget what was counted, not the state: the end of the warm-up. */
  clear(): void {
    this.counts = emptyCounts()
    this.#clearedNs = this.#nowNs
    for (const list of [...this.first, ...this.last, ...this.whole]) list.clear()
    for (const list of [this.stopPlace, this.stopWhom, this.stopNs]) list.clear()
    for (const a of [this.worstNs, this.worstAtNs, this.sumNs, this.heard]) a.fill(0)
    this.trace.count = 0
  }

  /** Longest pause of a locomotive, the one still open at the end among them, ns. */
  worstPauseNs(a: number): number {
    return Math.max(this.worstNs[a]!, this.#nowNs - Math.max(this.#heardAt[a]!, 0))
  }

  /** Commands of the queue now. */
  get depth(): number {
    return this.#fresh.count + this.#repeats.count
  }

  /** Send packets until the time is reached or so many have been sent. */
  run(untilNs: number, packets: number): void {
    const { preambleNs, cutoutNs, idleNs, addressOf, order, locomotives, nearNs, lost } = this.#plan
    const lastEnd = this.#lastEnd
    const ns = this.#ns
    const pending = this.#pending
    const fresh = this.#fresh
    const repeats = this.#repeats
    const random = this.#random
    const { counts, trace } = this
    const { sent, busyNs } = counts
    const goal = counts.packets + packets
    let arrival = this.#nextArrival()
    while (this.#nowNs < untilNs && counts.packets < goal) {
      while (arrival <= this.#nowNs) {
        this.#accept()
        arrival = this.#nextArrival()
      }
      const depth = fresh.count + repeats.count
      let picked = NOT_PICKED
      if (depth === 0 && trace.count >= TRACE && locomotives > 0 && !this.#plainly) {
        picked = this.#refreshUntil(Math.min(arrival, untilNs), goal)
        if (picked === NOT_PICKED) continue
      }
      const t = this.#nowNs
      const start = t + preambleNs
      counts.depthSum += depth
      if (depth > counts.depthMax) counts.depthMax = depth
      let job = -1
      let id = picked
      if (picked !== NOT_PICKED) {
        // The quick loop has chosen already.
      } else if (order === CHANGES) {
        if (depth > 0) job = this.#takeJob(start)
        if (job < 0) id = this.#refresh(start, true)
      } else if (order === CYCLE) {
        if ((this.#jobTurn || locomotives === 0) && depth > 0) job = this.#takeJob(start)
        this.#jobTurn = false
        if (job < 0) id = this.#refresh(start, false)
      } else {
        const pick = this.#weighted(start)
        if (pick >= 0) id = pick
        else {
          id = NOBODY_NOW
          job = -pick - 2
        }
      }
      let content = 3
      let reason = 3
      let length = idleNs
      let address = -1
      if (job >= 0) {
        id = this.#jobItem[job]!
        length = this.#jobNs[job]!
        reason = this.#jobSent[job] ? 1 : 0
      } else if (id >= 0) {
        length = ns[id]!
        reason = 2
      } else if (idleNs === 0) {
        this.#nowNs = arrival === Number.POSITIVE_INFINITY ? untilNs : Math.max(t, Math.min(arrival, untilNs))
        continue
      }
      const end = start + length
      if (id >= 0) {
        address = addressOf[id]!
        const gap = start - lastEnd[address]!
        lastEnd[address] = end
        counts.gaps++
        if (gap < nearNs) counts.gapsBroken++
        if (gap < counts.gapMinNs) {
          counts.gapMinNs = gap
          counts.gapMinAtNs = start
          counts.gapMinAddress = address
        }
        const isHeard = lost === 0 || random() >= lost
        content = this.#contentOf[id]!
        if (isHeard && address < locomotives) this.#hear(address, start)
        if (job >= 0) this.#deliver(job, end, isHeard, false)
        else if (pending[id]! >= 0) this.#deliver(pending[id]!, end, isHeard, true)
      }
      const interval = start - this.#lastStartNs
      if (interval > counts.intervalMaxNs) {
        counts.intervalMaxNs = interval
        counts.intervalMaxAtNs = this.#lastStartNs
      }
      if (interval < counts.intervalMinNs) counts.intervalMinNs = interval
      this.#lastStartNs = start
      sent[content * 4 + reason]!++
      const next = end + cutoutNs
      busyNs[content]! += next - t
      if (trace.count < TRACE) {
        const i = trace.count++
        trace.startNs[i] = t
        trace.endNs[i] = end
        trace.address[i] = address
        trace.content[i] = content
        trace.reason[i] = reason
      }
      this.#nowNs = next
      counts.packets++
    }
    counts.timeNs = this.#nowNs - this.#clearedNs
  }

  #hear(locomotive: number, start: number): void {
    const pause = start - this.#heardAt[locomotive]!
    this.#heardAt[locomotive] = start
    this.sumNs[locomotive]! += pause
    this.heard[locomotive]!++
    if (pause > this.worstNs[locomotive]!) {
      this.worstNs[locomotive] = pause
      this.worstAtNs[locomotive] = start
    }
  }

  /**
   * No command waits: refresh, until one comes or so many packets have been sent. It does what {@link run} would do one
   * packet at a time, and nothing that it need not.
   * @returns the item, or {@link NOBODY_NOW}, that was picked and must go the long way; else {@link NOT_PICKED}.
   */
  #refreshUntil(stopNs: number, goal: number): number {
    const { preambleNs, cutoutNs, addressOf, order, nearNs, lost } = this.#plan
    const lastEnd = this.#lastEnd
    const heardAt = this.#heardAt
    const { worstNs, worstAtNs, sumNs, heard, counts } = this
    const ns = this.#ns
    const pending = this.#pending
    const contentOf = this.#contentOf
    const random = this.#random
    const { sent, busyNs } = counts
    let { gapMinNs, gapMinAtNs, gapMinAddress, gapsBroken } = counts
    let { intervalMaxNs, intervalMaxAtNs, intervalMinNs } = counts
    let t = this.#nowNs
    let lastStart = this.#lastStartNs
    const before = counts.packets
    let count = before
    let picked = NOT_PICKED
    while (t < stopNs && count < goal) {
      const start = t + preambleNs
      let id: number
      if (order === WEIGHTED) id = this.#weighted(start)
      else {
        if (order === CYCLE) this.#jobTurn = false
        id = this.#refresh(start, order === CHANGES)
      }
      if (id < 0 || pending[id]! >= 0) {
        picked = id
        break
      }
      const address = addressOf[id]!
      const end = start + ns[id]!
      const gap = start - lastEnd[address]!
      lastEnd[address] = end
      if (gap < nearNs) gapsBroken++
      if (gap < gapMinNs) {
        gapMinNs = gap
        gapMinAtNs = start
        gapMinAddress = address
      }
      if (lost === 0 || random() >= lost) {
        const pause = start - heardAt[address]!
        heardAt[address] = start
        sumNs[address]! += pause
        heard[address]!++
        if (pause > worstNs[address]!) {
          worstNs[address] = pause
          worstAtNs[address] = start
        }
      }
      const interval = start - lastStart
      if (interval > intervalMaxNs) {
        intervalMaxNs = interval
        intervalMaxAtNs = lastStart
      }
      if (interval < intervalMinNs) intervalMinNs = interval
      lastStart = start
      const content = contentOf[id]!
      sent[content * 4 + 2]!++
      const next = end + cutoutNs
      busyNs[content]! += next - t
      t = next
      count++
    }
    this.#nowNs = t
    this.#lastStartNs = lastStart
    counts.packets = count
    counts.gaps += count - before
    counts.gapsBroken = gapsBroken
    counts.gapMinNs = gapMinNs
    counts.gapMinAtNs = gapMinAtNs
    counts.gapMinAddress = gapMinAddress
    counts.intervalMaxNs = intervalMaxNs
    counts.intervalMaxAtNs = intervalMaxAtNs
    counts.intervalMinNs = intervalMinNs
    return picked
  }

  #nextArrival(): number {
    while (this.#blockAt >= this.#block.count) {
      if (this.#commands.silent) return Number.POSITIVE_INFINITY
      this.#block = this.#commands.next()
      this.#blockAt = 0
    }
    return this.#block.atNs[this.#blockAt]!
  }

  /** The first waiting job whose address may hear a packet that starts then; fresh ones before repeats. */
  #takeJob(start: number): number {
    const job = this.#takeFrom(this.#fresh, start)
    return job >= 0 ? job : this.#takeFrom(this.#repeats, start)
  }

  #takeFrom(ring: Ring, start: number): number {
    const latest = start - this.#plan.gapNs
    for (let k = 0; k < ring.count; k++)
      if (this.#lastEnd[this.#plan.addressOf[this.#jobItem[ring.at(k)]!]!]! <= latest) return ring.takeAt(k)
    return -1
  }

  /** The next item of the cycle; −1 when nobody may hear one now. `skip`: pass over who may not. */
  #refresh(start: number, skip: boolean): number {
    const { locomotives, tableStart, gapNs, perVisit } = this.#plan
    const latest = start - gapNs
    let a = this.#locomotive
    if (this.#visitLeft > 0) {
      if (this.#lastEnd[a]! > latest) return -1
      this.#visitLeft--
      return this.#nextItem(a)
    }
    for (let k = 0; k < locomotives; k++) {
      if (++a === locomotives) {
        a = 0
        this.#jobTurn = true
      }
      if (this.#lastEnd[a]! <= latest) {
        this.#locomotive = a
        this.#visitLeft = Math.min(perVisit, tableStart[a + 1]! - tableStart[a]!) - 1
        return this.#nextItem(a)
      }
      if (!skip) return -1
    }
    return -1
  }

  #nextItem(a: number): number {
    const { table, tableStart } = this.#plan
    const from = tableStart[a]!
    const at = this.#position[a]!
    this.#position[a] = from + at + 1 < tableStart[a + 1]! ? at + 1 : 0
    return table[from + at]!
  }

  /**
   * Smooth weighted turns: each class with work gains its weight, the richest sends and pays what all gained.
   * @returns an item, or −2 − job, or −1 when nobody may hear a packet now.
   */
  #weighted(start: number): number {
    const { weights } = this.#plan
    const credits = this.#credits
    let able = 0
    let best = -1
    let gained = 0
    for (let c = 0; c < 4; c++) {
      if (!this.#hasWork(c)) continue
      const credit = credits[c]! + weights[c]!
      credits[c] = credit
      gained += weights[c]!
      able |= 1 << c
      if (best < 0 || credit > credits[best]!) best = c
    }
    if (best < 0) return -1
    // Nearly always the richest may send at once.
    const first = this.#pickOf(best, start)
    if (first !== -1) {
      credits[best]! -= gained
      return first
    }
    return this.#nextRichest(start, best, able)
  }

  /** {@link #weighted}, where nobody of the richest class may hear a packet now. */
  #nextRichest(start: number, richest: number, working: number): number {
    const { weights } = this.#plan
    const credits = this.#credits
    let able = working
    let tried = 15 & ~working
    const giveUp = (c: number) => {
      // It gains nothing by that, or it would grow rich on silence.
      credits[c]! -= weights[c]!
      able &= ~(1 << c)
      tried |= 1 << c
    }
    giveUp(richest)
    while (tried !== 15) {
      let best = -1
      for (let c = 0; c < 4; c++)
        if (!(tried & (1 << c)) && (best < 0 || credits[c]! > credits[best]!)) best = c
      const pick = this.#pickOf(best, start)
      if (pick !== -1) {
        for (let c = 0; c < 4; c++) if (able & (1 << c)) credits[best]! -= weights[c]!
        return pick
      }
      giveUp(best)
    }
    return -1
  }

  #hasWork(c: number): boolean {
    if (this.#plan.weights[c] === 0) return false
    if (c === 0) return this.depth > 0
    return (c === 1 ? this.#movingCount : c === 2 ? this.#standingCount : this.#withFunctions.length) > 0
  }

  #pickOf(c: number, start: number): number {
    if (c === 0) {
      const job = this.#takeJob(start)
      return job < 0 ? -1 : -2 - job
    }
    const list = c === 1 ? this.#moving : c === 2 ? this.#standing : this.#withFunctions
    const count = c === 1 ? this.#movingCount : c === 2 ? this.#standingCount : this.#withFunctions.length
    const latest = start - this.#plan.gapNs
    for (let k = 0; k < count; k++) {
      const turn = this.#turn[c]! < count ? this.#turn[c]! : 0
      this.#turn[c] = turn + 1
      const a = list[turn]!
      if (this.#lastEnd[a]! > latest) continue
      if (c < 3) return a * ITEM_COUNT
      let id = this.#nextItem(a)
      while (id % ITEM_COUNT === 0) id = this.#nextItem(a)
      return id
    }
    return -1
  }

  #setMoving(a: number, moving: boolean): void {
    if ((this.#isMoving[a] === 1) === moving) return
    const [from, to] = moving ? [this.#standing, this.#moving] : [this.#moving, this.#standing]
    const last = moving ? --this.#standingCount : --this.#movingCount
    const at = this.#listAt[a]!
    from[at] = from[last]!
    this.#listAt[from[at]!] = at
    const end = moving ? this.#movingCount++ : this.#standingCount++
    to[end] = a
    this.#listAt[a] = end
    this.#isMoving[a] = moving ? 1 : 0
  }

  /** A command reaches the station. */
  #accept(): void {
    const plan = this.#plan
    const i = this.#blockAt++
    const block = this.#block
    const kind = block.kind[i]!
    const target = block.target[i]!
    this.counts.commands[kind]!++
    let id = target * ITEM_COUNT
    let value = block.value[i]!
    if (kind === TURNOUT) id = plan.locomotives * ITEM_COUNT + target
    else if (kind === FUNCTION) {
      id += itemOfFunction(value)
      value = this.#values[id]! ^ bitOfFunction(value)
    }
    const rests = plan.order === CYCLE && this.#inTable[id] === 1
    const old = this.#pending[id]!
    const oldState = old < 0 ? FREE : this.#jobState[old]!
    const waits = plan.merge && (oldState === FRESH || oldState === REPEAT)
    if (!rests && !waits && this.depth >= plan.capacity) {
      this.counts.lostFull++
      return
    }
    this.#values[id] = value
    const length = plan.packetNs(id, value)
    if (kind !== TURNOUT) this.#ns[id] = length
    if (kind === SPEED || kind === STOP) this.#setMoving(target, (value & 0x7f) > 0)
    let at = block.atNs[i]!
    let born = block.bornNs[i]!
    let job = old
    if (old >= 0) {
      const isStop = kind === STOP || this.#jobKind[old] === STOP
      if (!this.#jobHeard[old]) {
        this.counts.superseded++
        // The decoder hears of the oldest waiting turn and of the newest at once; a stop is a matter of its own.
        if (!isStop) {
          at = this.#jobAt[old]!
          born = this.#jobBorn[old]!
        }
      }
      if (oldState === REPEAT) this.#repeats.remove(old)
      else if (oldState === FRESH && kind === STOP && plan.stopsFirst) this.#fresh.remove(old)
    } else {
      job = this.#free[--this.#freeCount]!
      this.#jobItem[job] = id
      // In a queue each command stands for itself; it is found by its item only once it rests.
      if (plan.merge || rests) this.#pending[id] = job
    }
    const stays = oldState === FRESH && !(kind === STOP && plan.stopsFirst)
    this.#jobKind[job] = kind
    this.#jobLeft[job] = rests ? 1 : plan.copies[kind]!
    this.#jobSent[job] = 0
    this.#jobHeard[job] = 0
    this.#jobNs[job] = length
    this.#jobAt[job] = at
    this.#jobBorn[job] = born
    this.#jobStop[job] = block.stop[i]!
    if (rests) this.#jobState[job] = RESTING
    else {
      this.#jobState[job] = FRESH
      // A job of a queue that rested is found by its item no more.
      if (!plan.merge) this.#pending[id] = -1
      if (kind === STOP && plan.stopsFirst) this.#fresh.pushFront(job)
      else if (!stays) this.#fresh.push(job)
    }
  }

  /** A packet of a job has been sent; `queued`: it was the refresh that carried it, the job is still in its queue. */
  #deliver(job: number, end: number, isHeard: boolean, queued: boolean): void {
    const kind = this.#jobKind[job]!
    const id = this.#jobItem[job]!
    this.#jobSent[job] = 1
    if (isHeard && !this.#jobHeard[job]) {
      this.#jobHeard[job] = 1
      this.first[kind]!.push(end - this.#jobAt[job]!)
      const whole = end - this.#jobBorn[job]!
      this.whole[kind]!.push(whole)
      if (this.#jobStop[job]! >= 0) {
        this.stopPlace.push(this.#jobStop[job]!)
        this.stopWhom.push(this.#plan.addressOf[id]!)
        this.stopNs.push(whole)
      }
    }
    const state = this.#jobState[job]!
    if (queued && state === FRESH) this.#fresh.remove(job)
    if (queued && state === REPEAT) this.#repeats.remove(job)
    const left = --this.#jobLeft[job]!
    if (left === 0) this.last[kind]!.push(end - this.#jobAt[job]!)
    if (left > 0 && state !== RESTING) {
      this.#jobState[job] = REPEAT
      this.#repeats.push(job)
      return
    }
    if (!this.#jobHeard[job] && this.#inTable[id]) {
      const other = this.#pending[id]!
      if (other >= 0 && other !== job) {
        // In a queue an older one may rest already, as unheard as this.
        this.counts.superseded++
        this.#release(other)
      }
      this.#jobState[job] = RESTING
      this.#pending[id] = job
      return
    }
    if (!this.#jobHeard[job]) this.counts.neverHeard++
    this.#release(job)
  }

  #release(job: number): void {
    const id = this.#jobItem[job]!
    if (this.#pending[id] === job) this.#pending[id] = -1
    this.#jobState[job] = FREE
    this.#free[this.#freeCount++] = job
  }
}

function emptyCounts(): RunCounts {
  return {
    packets: 0,
    timeNs: 0,
    sent: new Float64Array(16),
    busyNs: new Float64Array(4),
    commands: new Float64Array(4),
    superseded: 0,
    lostFull: 0,
    neverHeard: 0,
    depthSum: 0,
    depthMax: 0,
    gapMinNs: Number.POSITIVE_INFINITY,
    gapMinAtNs: 0,
    gapMinAddress: -1,
    gaps: 0,
    gapsBroken: 0,
    intervalMinNs: Number.POSITIVE_INFINITY,
    intervalMaxNs: 0,
    intervalMaxAtNs: 0,
  }
}
