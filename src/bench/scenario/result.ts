/** What a scenario gives: what was found of each expectation, and everything that happened. */
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
import type { BenchEvent } from '../station/coupled.js'
import type { ScenarioDesign } from './design.js'
import type { Heard } from './heard.js'
import type { Signals } from './signals.js'

/** One thing that an expectation turned out to be, of a district, an output or a train. */
export interface Found {
  clause?: ClauseId
  /** Absent for what is about the whole railroad. */
  about?: string
  /** Place on the track. */
  section?: string
  verdict: Verdict | 'not shown'
  finding: Finding
  value?: { low: number; high: number; unit: string; max?: number | undefined }
  timeUs?: number | undefined
}

/** An expectation of the scenario, and what came of it. */
export interface Outcome {
  /** Index in the scenario. */
  expectation: number
  key: string
  verdict: Verdict | 'not shown'
  /** Of the worst of what was found; the others are among the findings. */
  finding: Finding
  timeUs?: number
}

export interface ScenarioResult {
  name: string
  statements: Statement[]
  findings: Finding[]
  outcomes: Outcome[]
  /** Commands, and what the decoders made of them. */
  heard: Heard[]
  /** What happened, in the order of time; empty where the scenario was not run. */
  timeline: BenchEvent[]
  /** Current of each district at every change, A. */
  amps: ReadonlyMap<string, readonly { timeUs: number; amp: number }[]>
  signals: Signals
  /** Simulated time, us. */
  ranUs: number
  /** SHA-256 of everything that happened: two runs with the same are the same. */
  digest: string
  /** The scenario itself, for a replay; absent where none could be made. */
  scenario?: ScenarioDesign
}

const WORST: readonly Outcome['verdict'][] = ['broken', 'undecided', 'not shown', 'met']

/** The verdict on several findings: one that is not shown is not covered by others that are met. */
export function worstOf(found: readonly Found[]): Found | undefined {
  return [...found].sort((a, b) => WORST.indexOf(a.verdict) - WORST.indexOf(b.verdict))[0]
}

/** What was found as a statement about its clause. @param file of the firmware. */
export function statementOf(
  { clause, about, section, verdict, finding, value, timeUs }: Found,
  file: string,
): Statement[] {
  if (clause === undefined) return []
  const place = section === undefined ? {} : { section }
  if (verdict === 'not shown')
    return [
      notShown(clause, 'simulated', finding, { about, ...(section === undefined ? {} : { where: place }) }),
    ]
  const { low, high, unit, max } = value ?? { low: 0, high: 0, unit: 'share' }
  const margin = max === undefined ? (verdict === 'met' ? 1 : -1) : marginWithin(low, high, { max })
  const evidence: Evidence = {
    clause,
    origin: 'simulated',
    ...(about === undefined ? {} : { about }),
    verdict,
    value: { low, high, unit },
    margin:
      verdict === 'undecided' ? 0 : verdict === 'broken' ? Math.min(-0.01, margin) : Math.max(0, margin),
    where: { file, ...place, ...(timeUs === undefined ? {} : { timeUs }) },
    because: finding.sentence,
    finding,
  }
  return [evidence]
}

/** Every act of a scenario has happened: without one the scenario did not take place as it was written. */
export function isComplete({ findings }: Pick<ScenarioResult, 'findings'>): boolean {
  return !findings.some((f) => f.code === 'bench/never-happened')
}

const NOTHING: Signals = { endUs: 0, analog: [], states: [], packets: [], pins: [], serial: [] }

/** A scenario that could not be run, and why. */
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
    outcomes: [],
    heard: [],
    timeline: [],
    amps: new Map(),
    signals: NOTHING,
    ranUs: 0,
    digest: '',
  }
}
