/**
 * The firmware's health in one run, as evidence: stack, restarts, instructions, interrupts, deadlines. What a run did
 * not exercise it does not show.
 */
import type { Finding } from '../../finding/index.js'
import {
  type ClauseId,
  type Evidence,
  isShown,
  marginWithin,
  notShown,
  type Place,
  type Profile,
  type Statement,
  type Verdict,
} from '../../standard/index.js'
import { lateFinding, whoWasLate } from './culprit.js'
import { HEALTH_FINDINGS, RUN_FINDINGS } from './findings.data.js'
import { rateError } from './peripherals/usart.js'
import { type PlaceInCode, placeInWords } from './place.js'
import type { OutputReport, SimulationReport } from './report.js'
import type { SerialReport } from './serial-report.js'

/** Bytes that a further nested interrupt takes at least: return address, status and a few registers. */
const NEAR_MISS_BYTES = 32

export interface HealthSource {
  profile: Profile
  /** Path of the firmware file, as the report shows it. */
  file?: string
}

/**
 * Statements on the clauses about firmware, from the report of one run: `stack`, `restart`, `instruction-set`,
 * `interrupts`, `shared-data`, one each; `deadline`, one for each output.
 */
export function firmwareEvidence(report: SimulationReport, run: HealthSource): Statement[] {
  const judge = new Judge(run)
  return [
    stack(report, judge),
    restart(report, judge),
    instructions(report, judge),
    interrupts(report, judge),
    sharedData(report, judge),
    ...withHeldUp(report, judge),
  ]
}

/** What a builder must hear of a run beside the clauses. */
export function runNotes(report: SimulationReport): Finding[] {
  const never: Finding[] = report.outputs
    .filter((o) => o.madeBy === 'none' && o.notModelled === undefined)
    .map(({ name, pin, inverted }) => {
      const others = report.movedPins.filter((p) => p !== pin && p !== inverted)
      return RUN_FINDINGS.find('never-moved', { output: name, pin, others: others.join(', ') })
    })
  if (never.length > 0 && !report.hadInterruptsOn) never.push(RUN_FINDINGS.find('interrupts-never-on', {}))
  return [...never, ...serialFaults(report.serial), ...report.notModelled, ...report.notes]
}

/**
 * The most by which a receiver's rate may be off, as a share: ATmega328P data sheet, recommended maximum receiver error
 * for eight data bits at normal speed, from memory. Some 4.6 % is what it bears with a sender that is exact.
 */
const RATE_ERROR = 0.02

/** Bytes from outside that serial ports lost, and rates that are too far apart. */
export function serialFaults(
  ports: readonly Pick<SerialReport, 'name' | 'overrun' | 'whileOff' | 'frameErrors' | 'rates'>[],
): Finding[] {
  return ports.flatMap(({ name: port, overrun, whileOff, frameErrors, rates }) => [
    ...(rates && rateError(rates) > RATE_ERROR ? [RUN_FINDINGS.find('serial-rate', { port, ...rates })] : []),
    ...(overrun + whileOff + frameErrors > 0
      ? [RUN_FINDINGS.find('serial-lost', { port, overrun, whileOff, frameErrors })]
      : []),
  ])
}

/**
 * Statements on an output whose edges, or their absence, cannot be trusted because something that can drive or steer the
 * pin is not simulated: they become `not shown`, with the reason.
 */
export function withoutUnmodelled(evidence: readonly Statement[], report: SimulationReport): Statement[] {
  return evidence.map((e) => {
    const output = report.outputs.find((o) => o.name === e.about)
    const [reason] = output?.notModelled ?? []
    if (reason === undefined || !isShown(e)) return e
    return notShown(e.clause, e.origin, reason, { about: e.about, ...(e.where ? { where: e.where } : {}) })
  })
}

class Judge {
  readonly #run: HealthSource
  constructor(run: HealthSource) {
    this.#run = run
  }

  #where(at: { timeUs?: number | undefined; place?: PlaceInCode | undefined }): Place {
    const { file } = this.#run
    const { place } = at
    return {
      ...(at.timeUs === undefined ? {} : { timeUs: at.timeUs }),
      ...(place?.file === undefined ? (file === undefined ? {} : { file }) : { file: place.file }),
      ...(place?.line === undefined ? {} : { line: place.line }),
      ...(place === undefined ? {} : { address: place.symbol ?? `0x${place.address.toString(16)}` }),
    }
  }

  /** Evidence with the margin of its value inside the clause's limits. */
  shown(
    clause: ClauseId,
    value: number,
    finding: Finding,
    more: {
      about?: string
      timeUs?: number | undefined
      place?: PlaceInCode | undefined
      verdict?: Verdict
      margin?: number
      count?: { seen: number; outside: number }
    } = {},
  ): Evidence {
    const { sender, unit } = this.#run.profile.clauses[clause]
    const margin = marginWithin(value, value, sender)
    return {
      clause,
      origin: 'simulated',
      verdict: more.verdict ?? (margin < 0 ? 'broken' : 'met'),
      value: { low: value, high: value, unit },
      margin: more.margin ?? margin,
      ...(more.about === undefined ? {} : { about: more.about }),
      ...(more.count === undefined ? {} : { count: more.count }),
      where: this.#where(more),
      because: finding.sentence,
      finding,
    }
  }

  notShown(clause: ClauseId, finding: Finding, about?: string): Statement {
    const { file } = this.#run
    return notShown(clause, 'simulated', finding, {
      about,
      ...(file === undefined ? {} : { where: { file } }),
    })
  }
}

function stack({ stack }: SimulationReport, judge: Judge): Statement {
  const { deepestBytes, ramBytes, freeBytes, heapEnd, dataEnd, deepestAtUs: timeUs, deepestBy: place } = stack
  if (stack.overflowed) {
    const overlapBytes = -(freeBytes ?? ramBytes - deepestBytes)
    const finding = HEALTH_FINDINGS.find('stack-overflow', {
      overlapBytes,
      deepestBytes,
      place: placeInWords(place),
      atUs: timeUs,
    })
    return judge.shown('stack', -overlapBytes, finding, { timeUs, place })
  }
  if (freeBytes === undefined || dataEnd === undefined) {
    return judge.notShown('stack', HEALTH_FINDINGS.find('stack-unknown', { deepestBytes }))
  }
  const heap = heapEnd === undefined ? 0 : heapEnd - dataEnd
  const left = freeBytes - heap
  if (left < 0) {
    const finding = HEALTH_FINDINGS.find('stack-heap', { overlapBytes: -left })
    return judge.shown('stack', left, finding, { timeUs, place, verdict: 'undecided' })
  }
  const near = left < NEAR_MISS_BYTES
  const finding = HEALTH_FINDINGS.find('stack-clear', { freeBytes: left, deepestBytes, ramBytes, near })
  // The share of the room for the stack that was never used.
  const room = Math.max(1, left + deepestBytes)
  return judge.shown('stack', left, finding, { timeUs, place, margin: left / room })
}

function restart({ restarts }: SimulationReport, judge: Judge): Statement {
  const own = restarts.count - restarts.asked
  const first = restarts.list.find((r) => !r.asked)
  if (own === 0) {
    return judge.shown('restart', 0, HEALTH_FINDINGS.find('no-restart', { asked: restarts.asked }))
  }
  const finding = HEALTH_FINDINGS.find('restarted', {
    count: own,
    place: placeInWords(first?.by),
    atUs: first?.atUs ?? 0,
    cause: first?.cause ?? 'jump',
    by: first?.interrupt ?? '',
    causes: Object.entries(restarts.byCause)
      .map(([cause, n]) => `${cause.replace('-', ' ')}: ${n}`)
      .join(', '),
  })
  return judge.shown('restart', own, finding, { timeUs: first?.atUs, place: first?.by })
}

function instructions(report: SimulationReport, judge: Judge): Statement {
  const { illegalInstructions: illegal, outsideMemory: outside } = report
  const faults = illegal.count + outside.count
  if (faults === 0) return judge.shown('instruction-set', 0, HEALTH_FINDINGS.find('instructions-known', {}))
  const finding = HEALTH_FINDINGS.find('instructions-illegal', {
    illegal: illegal.count,
    outside: outside.count,
    place: placeInWords(illegal.first),
    outsidePlace: placeInWords(outside.first),
    atUs: illegal.firstAtUs ?? 0,
  })
  return judge.shown('instruction-set', faults, finding, {
    timeUs: illegal.firstAtUs,
    place: illegal.first ?? outside.first,
  })
}

function interrupts(report: SimulationReport, judge: Judge): Statement {
  const lost = report.interrupts.filter((i) => i.lost > 0)
  const { unserved } = report
  const served = report.interrupts.reduce((sum, i) => sum + i.count, 0)
  const bad = lost.reduce((sum, i) => sum + i.lost, 0) + unserved.length
  if (bad === 0) {
    const kinds = report.interrupts.length
    return judge.shown('interrupts', 0, HEALTH_FINDINGS.find('interrupts-served', { served, kinds }))
  }
  const finding = HEALTH_FINDINGS.find('interrupts-lost', {
    lost: lost.map((i) => `${i.name} ${i.lost} times`).join(', '),
    without: unserved.map((u) => `${u.name} (enabled in ${placeInWords(u.by)})`).join(', '),
  })
  const [first] = unserved
  return judge.shown('interrupts', bad, finding, {
    timeUs: first?.atUs ?? Math.min(...lost.map((i) => i.firstLostAtUs ?? 0)),
    place: first?.by,
    count: { seen: served + bad, outside: bad },
  })
}

/** Races that were seen, and those that the run did not happen to show. */
function sharedData({ sharedData: races }: SimulationReport, judge: Judge): Statement {
  const [first] = [...races].sort(
    (a, b) =>
      Number(b.certain) - Number(a.certain) || Number(b.count > 0) - Number(a.count > 0) || b.count - a.count,
  )
  if (first === undefined) return judge.shown('shared-data', 0, HEALTH_FINDINGS.find('shared-safe', {}))
  const values = (list: typeof races) => new Set(list.map((r) => r.variable)).size
  const torn = values(races.filter((r) => r.count > 0 && r.certain))
  const { variable, bytes, access, by, interrupt, handlerAccess, handlerBy, count, firstAtUs, certain } =
    first
  const about = {
    variable,
    bytes,
    access,
    place: placeInWords(by),
    interrupt,
    handlerAccess,
    handlerPlace: placeInWords(handlerBy),
    more: values(races) - 1,
  }
  if (torn > 0) {
    const finding = HEALTH_FINDINGS.find('shared-torn', { ...about, count, atUs: firstAtUs })
    return judge.shown('shared-data', torn, finding, { timeUs: firstAtUs, place: by })
  }
  const finding =
    count > 0 && !certain
      ? HEALTH_FINDINGS.find('shared-bytes', { ...about, count, atUs: firstAtUs })
      : HEALTH_FINDINGS.find('shared-open', about)
  return judge.shown('shared-data', values(races), finding, { place: by, verdict: 'undecided', margin: 0 })
}

/** The deadlines of every output; a missed one with what held its interrupt up. */
function withHeldUp(report: SimulationReport, judge: Judge): Statement[] {
  return report.outputs.map((output) => {
    const statement = deadline(output, judge)
    const timeUs = statement.where?.timeUs
    if (statement.verdict !== 'broken' || timeUs === undefined) return statement
    const culprit = whoWasLate(report, output, timeUs)
    if (culprit === undefined) return statement
    return { ...statement, because: `${statement.because}; ${lateFinding(culprit).sentence}` }
  })
}

/** The compare values of the timer behind the output, or the interrupt that makes its edges. */
function deadline(output: OutputReport, judge: Judge): Statement {
  const { name: of, missedCompares, leastSlackUs, leastSlackAtUs } = output
  const about = of
  if (leastSlackUs !== undefined && leastSlackAtUs !== undefined) {
    const by = output.interrupt === undefined ? 'a compare value' : `a compare value of ${output.interrupt}`
    if (missedCompares > 0) {
      const timeUs = output.firstMissedAtUs ?? leastSlackAtUs
      const finding = HEALTH_FINDINGS.find('deadline-missed', {
        of,
        by,
        count: missedCompares,
        atUs: timeUs,
        worstUs: -leastSlackUs,
      })
      return judge.shown('deadline', Math.min(leastSlackUs, 0), finding, {
        about,
        timeUs,
        verdict: 'broken',
        margin: -1,
      })
    }
    const share = output.deadlineUs === undefined ? 1 : Math.min(1, leastSlackUs / output.deadlineUs)
    const finding = HEALTH_FINDINGS.find('deadline-kept', {
      of,
      by,
      leastUs: leastSlackUs,
      atUs: leastSlackAtUs,
    })
    return judge.shown('deadline', leastSlackUs, finding, { about, timeUs: leastSlackAtUs, margin: share })
  }
  const { deadlineUs, worstLatencyUs, worstLatencyAtUs, interrupt } = output
  if (interrupt === undefined || deadlineUs === undefined || worstLatencyUs === undefined) {
    return judge.notShown('deadline', HEALTH_FINDINGS.find('deadline-none', { of }), about)
  }
  const slack = deadlineUs - worstLatencyUs
  const atUs = worstLatencyAtUs ?? 0
  if (slack < 0) {
    const finding = HEALTH_FINDINGS.find('deadline-missed', {
      of,
      by: interrupt,
      count: 1,
      atUs,
      worstUs: -slack,
    })
    return judge.shown('deadline', slack, finding, { about, timeUs: atUs, margin: slack / deadlineUs })
  }
  const finding = HEALTH_FINDINGS.find('deadline-kept', { of, by: interrupt, leastUs: slack, atUs })
  return judge.shown('deadline', slack, finding, { about, timeUs: atUs, margin: slack / deadlineUs })
}
