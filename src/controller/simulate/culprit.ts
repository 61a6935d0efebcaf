/** Names what made a signal late, beside the clause that it broke. */
import type { Finding } from '../../finding/index.js'
import type { ClauseId, Statement } from '../../standard/index.js'
import { HEALTH_FINDINGS } from './findings.data.js'
import { type PlaceInCode, placeInWords } from './place.js'
import type { OutputReport, SimulationReport } from './report.js'

export interface Culprit {
  /** The interrupt that came late; absent where the main program makes the edges. */
  late?: string
  /** When it began, and how long it had waited, us. */
  atUs: number
  lateUs: number
  /** The interrupt whose handler ran meanwhile; absent where an instruction had turned interrupts off. */
  interrupt?: string
  /** That handler, or that instruction. */
  place: PlaceInCode
}

/** Clauses about when edges and packets come. */
const ABOUT_TIME: ReadonlySet<ClauseId> = new Set([
  'one-half',
  'one-difference',
  'zero-half',
  'zero-total',
  'glitch',
  'framing',
  'preamble',
  'packet-interval',
  'interruption',
  'cutout-start',
  'cutout-end',
])

/** A compare value that was missed shows only when the counter has run to its end: 65,536 ticks at most. */
const LOOK_BACK_US = 10_000
/** A half-bit is named by its beginning, and what is late may be its end. */
const LOOK_AHEAD_US = 200

/**
 * What made an edge of an output late: the worst delay of what makes its edges, in the 10 ms before.
 * @param atUs time in the run, from power-up.
 * @returns undefined where nothing was held up: the program itself asked for that edge.
 */
export function whoWasLate(
  report: SimulationReport,
  output: OutputReport,
  atUs: number,
): Culprit | undefined {
  const { lateness } = report
  const vector = report.interrupts.find((i) => i.name === output.interrupt)?.vector
  const from = Math.max(0, atUs - LOOK_BACK_US)
  const to = atUs + LOOK_AHEAD_US
  const hold = vector === undefined ? lateness.worstRun(from, to) : lateness.worstOf(vector, from, to)
  if (hold === undefined) return undefined
  const interrupt = report.interrupts.find((i) => i.vector === hold.vector)
  return {
    ...(output.interrupt === undefined ? {} : { late: output.interrupt }),
    atUs: hold.atUs,
    lateUs: hold.lateUs,
    ...(interrupt === undefined ? {} : { interrupt: interrupt.name }),
    place: interrupt?.handler ?? lateness.placeOf(hold.pc),
  }
}

export function lateFinding(culprit: Culprit): Finding {
  const { late = '', atUs, lateUs, interrupt = '', place } = culprit
  return HEALTH_FINDINGS.find('held-up', { late, atUs, lateUs, interrupt, place: placeInWords(place) })
}

/** Statements on signals, where broken in time with what made it late. */
export function withCulprits(statements: readonly Statement[], report: SimulationReport): Statement[] {
  return statements.map((e) => {
    const output = report.outputs.find((o) => o.name === e.about)
    const timeUs = e.where?.timeUs
    if (e.verdict !== 'broken' || output === undefined || timeUs === undefined || !ABOUT_TIME.has(e.clause))
      return e
    const culprit = whoWasLate(report, output, timeUs)
    if (culprit === undefined) return e
    const { sentence } = lateFinding(culprit)
    const because = `${e.because}; ${sentence}`
    const params = { ...e.finding?.params, heldUp: sentence }
    return { ...e, because, ...(e.finding ? { finding: { ...e.finding, params, sentence: because } } : {}) }
  })
}
