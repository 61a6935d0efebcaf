/** What is told beside the signal: load, interrupts, deadlines, stack, resets. Plain data. */
import type { Finding } from '../../finding/index.js'
import { AVR_CHIPS } from '../chips/avr-timers.data.js'
import { handlerAddress } from './health/handlers.js'
import type { Hold } from './health/lateness.js'
import type { RestartCause, SimulatedController } from './machine.js'
import type { ReloadStats } from './peripherals/timer.js'
import { type PlaceInCode, placeOf } from './place.js'
import type { EdgeRecorder } from './recorder.js'
import { type SerialReport, serialReport } from './serial-report.js'

export interface InterruptReport {
  vector: number
  /** Name in the data sheet, `TIMER1_COMPA`. */
  name: string
  count: number
  perSecond: number
  /** Requests that came while the one before still waited. */
  /** First instruction of its handler. */
  handler: PlaceInCode
  lost: number
  firstLostAtUs?: number
  longestRunUs: number
  meanRunUs: number
  /** Share of all time spent in it, interrupts nested in it included. */
  share: number
  /** Request to first instruction of the handler. */
  worstLatencyUs: number
  worstLatencyAtUs: number
  meanLatencyUs: number
  /** Shortest time between two requests; absent with fewer than two. */
  shortestIntervalUs?: number
}

export interface LateInterrupt {
  interrupt: string
  atUs: number
  lateUs: number
  /** The handler that ran meanwhile; absent where an instruction had turned interrupts off. */
  waitedFor?: string
}

/** How one output is made and how close its interrupt came to being late. */
export interface OutputReport {
  name: string
  pin: string
  inverted?: string
  edges: number
  /** `hardware`: a timer drives the pin; `software`: instructions do; `none`: it never moved. */
  madeBy: 'hardware' | 'software' | 'none'
  /** What drives the pin, `Timer 1 A` or `SPI`. */
  peripheral?: string
  /** Name of the interrupt that feeds it. */
  interrupt?: string
  worstLatencyUs?: number
  worstLatencyAtUs?: number
  /** Shortest time between two requests of that interrupt: from one compare to the next. */
  deadlineUs?: number
  /** Shortest time left when a compare value was loaded; below 0: it came too late. */
  leastSlackUs?: number
  leastSlackAtUs?: number
  /** Compare values that came too late for the period they were meant for. */
  missedCompares: number
  firstMissedAtUs?: number
  /** What could have moved the pin, or made its edges otherwise, and is not simulated. */
  notModelled?: Finding[]
}

export interface RestartReport {
  atUs: number
  cause: RestartCause
  /** The stimulus asked for it. */
  asked: boolean
  /** Where the program was; absent where that is not known. */
  by?: PlaceInCode
  /** The interrupt that has no handler. */
  interrupt?: string
}

/** A value of several bytes that an interrupt touched in the middle of an access, or could. */
export interface RaceReport {
  /** Name where the file has symbols, else the address. */
  variable: string
  bytes: number
  /** What the interrupted program did with it, and where. */
  access: 'reads' | 'writes'
  by: PlaceInCode
  interrupt: string
  handlerAccess: 'reads' | 'writes'
  handlerBy: PlaceInCode
  /** Times seen; 0: it could happen, and did not in this run. */
  count: number
  firstAtUs: number
  /** It is one value for certain. */
  certain: boolean
}

export interface SimulationReport {
  chip: string
  clockHz: number
  cycles: number
  simulatedUs: number
  /** Share of cycles neither asleep nor in a loop that only waits: one whose state repeats until the next event. */
  load: number
  waitingShare: number
  sleepingShare: number
  /** Share of cycles in interrupt handlers, from entry to RETI. */
  interruptShare: number
  interrupts: InterruptReport[]
  outputs: OutputReport[]
  /**
   * Interrupts that began later than entry and one instruction explain, the first thousands one by one: when it began,
   * how long after its cause, and what it waited for, a handler or interrupts turned off.
   */
  lateInterrupts: { count: number; list: LateInterrupt[] }
  /** Longest time with interrupts off, after they were first turned on. */
  interruptsOff:
    | { longestUs: number; atUs: number; by: PlaceInCode /** An interrupt's own run. */; interrupt?: string }
    | undefined
  stack: {
    /** Deepest use, bytes from the end of the RAM. */
    deepestBytes: number
    ramBytes: number
    /** First RAM address after the program's data, where the file tells. */
    dataEnd?: number
    /** Bytes never used between data and stack; negative: the stack ran into the data. */
    freeBytes?: number
    overflowed: boolean
    /** Where and when it was deepest: seen at the first event after. */
    deepestAtUs: number
    deepestBy: PlaceInCode
    /** End of the memory that the program allocated, where it did. */
    heapEnd?: number
  }
  /** Pins whose level the program or a peripheral changed, on an output of the design or not; and whether interrupts were ever on. */
  movedPins: string[]
  hadInterruptsOn: boolean
  /** Every time the program began again: all of them, those that the stimulus asked for, the first ones in detail. */
  restarts: {
    count: number
    asked: number
    byCause: Partial<Record<RestartCause, number>>
    list: RestartReport[]
  }
  /** Interrupts that were enabled, with interrupts on, although no handler serves them. */
  unserved: { vector: number; name: string; atUs: number; by: PlaceInCode }[]
  sharedData: RaceReport[]
  illegalInstructions: { count: number; first?: PlaceInCode; firstAtUs?: number }
  /** Accesses to addresses at which the chip has no memory. */
  outsideMemory: { count: number; first?: PlaceInCode }
  breaks: number
  selfProgramming: number
  serial: SerialReport[]
  /** What the run met that is simulated with a simplification, or that the firmware should not do. */
  notes: Finding[]
  /** What the run met that is not simulated. */
  notModelled: Finding[]
  /** What held interrupts up, for {@link whoWasLate}; its content stays out of JSON. */
  lateness: LatenessLog
}

/** Looks up the worst delays of a run. */
export interface LatenessLog {
  /** Of an interrupt, in a time of the run, us. */
  worstOf(vector: number, fromUs: number, toUs: number): Hold | undefined
  /** Of the main program. */
  worstRun(fromUs: number, toUs: number): Hold | undefined
  /** Place of a word address. */
  placeOf(pc: number): PlaceInCode
}

export interface RecordedOutput {
  name: string
  pin: string
  inverted?: string | undefined
  recorder: EdgeRecorder
}

/** The report of what a controller has done so far. */
export function reportOf(
  machine: SimulatedController,
  recorded: readonly RecordedOutput[] = [],
): SimulationReport {
  const { core, model, image } = machine
  // Durations; a divided clock makes each cycle longer.
  const us = (cycles: number) => (cycles * machine.divider * 1e6) / machine.clockHz
  const cycles = machine.now
  const place = (pc: number): PlaceInCode => placeOf(image, pc)
  const share = (part: number) => (cycles > 0 ? part / cycles : 0)
  const interrupts = machine.interrupts.stats.flatMap((s, vector): InterruptReport[] => {
    if (s.count === 0 && s.lost === 0) return []
    return [
      {
        vector,
        name: model.vectors[vector]!,
        handler: place(handlerAddress(core.flash, vector) >> 1),
        count: s.count,
        perSecond: cycles > 0 ? (s.count * machine.clockHz) / cycles : 0,
        lost: s.lost,
        ...(s.lost > 0 ? { firstLostAtUs: machine.usAtCycle(s.firstLostAt) } : {}),
        longestRunUs: us(s.longestRun),
        meanRunUs: s.count > 0 ? us(s.totalRun / s.count) : 0,
        share: share(s.totalRun),
        worstLatencyUs: us(s.worstLatency),
        worstLatencyAtUs: machine.usAtCycle(s.worstLatencyAt),
        meanLatencyUs: s.count > 0 ? us(s.totalLatency / s.count) : 0,
        ...(Number.isFinite(s.shortestInterval) ? { shortestIntervalUs: us(s.shortestInterval) } : {}),
      },
    ]
  })
  const lastRam = model.ramStart + model.ramBytes - 1
  const deepest = Math.max(0, lastRam - core.lowestSp)
  const free = image.dataEnd === undefined ? undefined : core.lowestSp + 1 - image.dataEnd
  const heapEnd = heapEndOf(machine)
  const at = (cycle: number) => machine.usAtCycle(cycle)
  const busy = Math.max(0, cycles - core.waitingCycles - machine.sleepingCycles)
  return {
    chip: AVR_CHIPS[machine.chip].name,
    clockHz: machine.clockHz,
    cycles,
    simulatedUs: machine.usAtCycle(cycles),
    load: share(busy),
    waitingShare: share(core.waitingCycles),
    sleepingShare: share(machine.sleepingCycles),
    interruptShare: share(machine.interrupts.totalRun),
    interrupts,
    outputs: recorded.map((output) => outputReport(machine, output, us)),
    interruptsOff:
      machine.masked.longest > 0
        ? {
            longestUs: us(machine.masked.longest),
            atUs: us(machine.masked.longestAt),
            by: place(machine.masked.longestPc),
            ...(machine.masked.longestVector >= 0
              ? { interrupt: model.vectors[machine.masked.longestVector]! }
              : {}),
          }
        : undefined,
    lateInterrupts: {
      count: machine.lateness.count,
      list: machine.lateness.list.map(
        ({ late, atUs, lateUs, vector }): LateInterrupt => ({
          interrupt: model.vectors[late]!,
          atUs,
          lateUs,
          ...(vector < 0 ? {} : { waitedFor: model.vectors[vector]! }),
        }),
      ),
    },
    stack: {
      deepestBytes: deepest,
      ramBytes: model.ramBytes,
      ...(image.dataEnd === undefined ? {} : { dataEnd: image.dataEnd }),
      ...(free === undefined ? {} : { freeBytes: free }),
      overflowed: (free !== undefined && free < 0) || core.lowestSp + 1 < model.ramStart,
      deepestAtUs: at(machine.deepestAt),
      deepestBy: place(machine.deepestPc),
      ...(heapEnd === undefined ? {} : { heapEnd }),
    },
    movedPins: machine.movedPins(),
    hadInterruptsOn: machine.hadInterruptsOn,
    restarts: {
      count: machine.restartCount,
      asked: machine.askedRestarts,
      byCause: Object.fromEntries(machine.restartsByCause),
      list: machine.restarts.map(
        (r): RestartReport => ({
          atUs: at(r.at),
          cause: r.cause,
          asked: r.asked,
          ...(r.pc < 0 ? {} : { by: place(r.pc) }),
          ...(r.vector === undefined ? {} : { interrupt: model.vectors[r.vector]! }),
        }),
      ),
    },
    unserved: [...machine.handlers.found].map(([vector, f]) => ({
      vector,
      name: model.vectors[vector]!,
      atUs: at(f.at),
      by: place(f.pc),
    })),
    sharedData: [...machine.sharedData.races.values()].map((race) => ({
      variable: race.value.name ?? `0x${race.value.address.toString(16)}`,
      bytes: race.value.size,
      access: race.kind === 'load' ? 'reads' : 'writes',
      by: place(race.pc),
      interrupt: model.vectors[race.vector]!,
      handlerAccess: race.handlerKind === 'load' ? 'reads' : 'writes',
      handlerBy: place(race.handlerPc),
      count: race.count,
      firstAtUs: at(race.firstAt),
      certain: race.value.certain,
    })),
    illegalInstructions:
      core.illegal > 0
        ? { count: core.illegal, first: place(core.illegalPc), firstAtUs: at(core.illegalAt) }
        : { count: 0 },
    outsideMemory: core.outside > 0 ? { count: core.outside, first: place(core.outsidePc) } : { count: 0 },
    breaks: machine.breaks,
    selfProgramming: machine.selfProgramming,
    serial: machine.usarts.filter((u) => u.sent + u.received + u.overrun + u.whileOff > 0).map(serialReport),
    notes: [...machine.notes],
    notModelled: machine.notModelled.map((n) => n.finding),
    lateness: new RunLateness(machine),
  }
}

class RunLateness implements LatenessLog {
  readonly #machine: SimulatedController
  constructor(machine: SimulatedController) {
    this.#machine = machine
  }
  worstOf(vector: number, fromUs: number, toUs: number): Hold | undefined {
    return this.#machine.lateness.worstOf(vector, fromUs, toUs)
  }
  worstRun(fromUs: number, toUs: number): Hold | undefined {
    return this.#machine.lateness.worstRun(fromUs, toUs)
  }
  placeOf(pc: number): PlaceInCode {
    return placeOf(this.#machine.image, pc)
  }
  toJSON(): undefined {
    return undefined
  }
}

/** Where avr-libc's allocator has come to, by its variable `__brkval`; undefined while nothing was allocated. */
function heapEndOf({ image, data }: SimulatedController): number | undefined {
  const symbol = image.symbols.find((s) => s.kind === 'data' && s.name === '__brkval')
  if (symbol === undefined) return undefined
  const end = data[symbol.address]! | (data[symbol.address + 1]! << 8)
  return end === 0 ? undefined : end
}

function outputReport(
  machine: SimulatedController,
  output: RecordedOutput,
  us: (cycles: number) => number,
): OutputReport {
  const { recorder, name, pin, inverted } = output
  const report: OutputReport = {
    name,
    pin,
    ...(inverted === undefined ? {} : { inverted }),
    edges: recorder.edges,
    madeBy: recorder.edges <= 1 ? 'none' : 'software',
    missedCompares: 0,
  }
  const missing = machine.notModelled
    .filter(
      ({ affects }) =>
        affects === 'all' ||
        (affects !== 'none' &&
          (affects.includes(pin) || (inverted !== undefined && affects.includes(inverted)))),
    )
    .map((n) => n.finding)
  if (missing.length > 0) report.notModelled = missing
  const driving = machine.hardwareOf(pin)
  const { stats } = machine.interrupts
  let vector: number | undefined
  let reloads: readonly ReloadStats[] = []
  if (driving !== undefined) {
    report.madeBy = recorder.edges <= 1 ? 'none' : 'hardware'
    report.peripheral = driving.name
    vector = busiest(driving.vectors.map((v) => [v, stats[v]!.count]))
    reloads = driving.reloads
  } else {
    vector = busiest([...recorder.byVector])
    // The compare values that time the interrupt which writes the pin.
    if (vector !== undefined) reloads = machine.reloadsOf(vector)
  }
  for (const reload of reloads) {
    report.missedCompares += reload.missed
    if (reload.missed > 0) {
      const at = machine.usAtCycle(reload.missedAt)
      report.firstMissedAtUs = Math.min(report.firstMissedAtUs ?? at, at)
    }
    if (reload.writes > 0 && us(reload.leastSlack) < (report.leastSlackUs ?? Number.POSITIVE_INFINITY)) {
      report.leastSlackUs = us(reload.leastSlack)
      report.leastSlackAtUs = machine.usAtCycle(reload.leastSlackAt)
    }
  }
  if (vector !== undefined) {
    const s = stats[vector]!
    report.interrupt = machine.model.vectors[vector]!
    report.worstLatencyUs = us(s.worstLatency)
    report.worstLatencyAtUs = machine.usAtCycle(s.worstLatencyAt)
    if (Number.isFinite(s.shortestInterval)) report.deadlineUs = us(s.shortestInterval)
  }
  return report
}

function busiest(counts: [number, number][]): number | undefined {
  const [best] = counts.filter(([, count]) => count > 0).sort((a, b) => b[1] - a[1])
  return best?.[0]
}
