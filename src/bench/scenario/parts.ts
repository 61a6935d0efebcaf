/** What the scenarios have in common: their result, and statements made of what was seen. */
import type { Finding } from '../../finding/index.js'
import {
  type ClauseId,
  type Evidence,
  marginWithin,
  notShown,
  type Statement,
  type Verdict,
} from '../../standard/index.js'
import { BENCH_FINDINGS as SAYS } from '../findings.data.js'
import type { BenchEvent, CoupledRun } from '../station/coupled.js'

export interface ScenarioResult {
  name: string
  statements: Statement[]
  findings: Finding[]
  /** What happened, in the order of time; empty where the scenario was not run. */
  timeline: BenchEvent[]
  /** Current of each district at every change, A. */
  amps: ReadonlyMap<string, readonly { timeUs: number; amp: number }[]>
  /** Simulated time, us. */
  ranUs: number
}

export interface StandingOptions {
  /** By the design a short of so many amperes is off within, us; undefined where it does not tell. */
  plannedUs(district: string, amp: number): number | undefined
  file: string
}

/** When the first locomotive is commanded, and from one to the next, us: a firmware may still send its resets before. */
export const FIRST_COMMAND_US = 300e3
export const NO_LANGUAGE = 'the design does not say how the firmware is commanded'

export function notRun(
  name: string,
  clause: ClauseId,
  about: string | undefined,
  why: string,
): ScenarioResult {
  const finding = SAYS.find('not-run', { scenario: name, why })
  return {
    name,
    statements: [notShown(clause, 'simulated', finding, { about })],
    findings: [finding],
    timeline: [],
    amps: new Map(),
    ranUs: 0,
  }
}

export function resultOf(
  name: string,
  run: CoupledRun,
  statements: Statement[],
  findings: Finding[] = [],
): ScenarioResult {
  const said = statements.flatMap((s) => s.finding ?? [])
  return {
    name,
    statements,
    findings: [...said, ...findings],
    timeline: run.timeline(),
    amps: run.amps,
    ranUs: run.nowUs,
  }
}

export function evidence(
  clause: ClauseId,
  about: string,
  verdict: Verdict,
  found: { low: number; high: number; unit: string; max?: number | undefined },
  finding: Finding,
  { file }: StandingOptions,
  timeUs?: number,
): Evidence {
  const { low, high, unit, max } = found
  const margin = max === undefined ? (verdict === 'met' ? 1 : -1) : marginWithin(low, high, { max })
  return {
    clause,
    origin: 'simulated',
    about,
    verdict,
    value: { low, high, unit },
    margin:
      verdict === 'undecided' ? 0 : verdict === 'broken' ? Math.min(-0.01, margin) : Math.max(0, margin),
    where: { file, ...(timeUs === undefined ? {} : { timeUs }) },
    because: finding.sentence,
    finding,
  }
}
