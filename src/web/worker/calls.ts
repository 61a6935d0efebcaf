/** What the page can ask of its workers. */

import type { ScenarioResult } from '../../bench/index.js'
import type { AnalogReading, CaptureFormat, CaptureOptions } from '../../capture/index.js'
import type { SimulationReport } from '../../controller/index.js'
import type { Proof, RunEvidence } from '../../proof/index.js'
import type { SignalReading } from '../../signal/index.js'
import type { ClauseId, OutputMode } from '../../standard/index.js'
import type { Choice, Given, Line, Question, QuestionId, Step, StepId } from '../../start/index.js'
import type { TrackAction } from '../../track/index.js'
import type { WaveRecord } from '../wave/record.js'
import type { TrackMapData } from './map-data.js'
import type { Salvaged } from './salvage.js'
import type { TrainsData } from './trains.js'

export interface TextProblem {
  path: readonly (string | number)[]
  line: number
  column: number
  message: string
}

export interface OutputFacts {
  name: string
  pin: string
  inverted?: string | undefined
  mode: OutputMode
  cutout: boolean
}

export interface CaptureFacts {
  file: string
  output?: string | undefined
  build?: string | undefined
}

/** What the page needs to know of a sound design. */
export interface DesignFacts {
  name: string
  chip: string
  chipName: string
  /** Port pins of the chip. */
  pins: string[]
  clockHz: number
  simulated: boolean
  outputs: OutputFacts[]
  firmware?:
    | { file: string; stimulus?: string | undefined; runForUs?: number | undefined; skipUs: number }
    | undefined
  captures: CaptureFacts[]
  /** Names of its variants. */
  variants: string[]
  /** What of the design a run and a reading of a capture depend on: see `dependsOn` of the proof. */
  dependsOn: Record<RunEvidence['kind'], string>
  parts: string[]
}

export interface Judged {
  problems: TextProblem[]
  /** While the text has problems, that of its sound parts or the last one that there was: stale, and it says so. */
  proof?: Proof
  /** While the text has problems: what was calculated all the same. */
  partial?: Salvaged | undefined
  facts?: DesignFacts
  /** A part that could not be calculated, in one sentence. */
  fault?: string
  /** False while figures of the traffic are still those of the text before. */
  complete?: boolean
  tookMs: number
}

/** A drawing as SVG text with its name. */
export interface Figure {
  name: string
  title: string
  svg: string
  /** What is drawn where, in the drawing's own units: a large one opens on it. */
  places?: readonly FigurePlace[]
}

export interface FigurePlace {
  name: string
  x: number
  y: number
}

export interface TableData {
  title: string
  head: string[]
  rows: string[][]
  /** Columns with figures are set to the right. */
  right?: number[]
}

/** What a stop shows beside its clauses. */
export interface Report {
  figures: Figure[]
  tables: TableData[]
  /** Sentences: what to change, what could not be worked out, cautions. */
  advice: string[]
  missing: string[]
  cautions: string[]
}

/** The build book as the screen shows it, and as files to take along. */
export interface BookScreen {
  sum: string
  figure: Figure
  tables: TableData[]
  steps: { title: string; facts: [string, string][] }[]
  cautions: string[]
  html: string
  markdown: string
}

export interface TimerRow {
  id: string
  way: string
  places: string
  divider: number
  one: string
  zero: string
  headroom: number
  late: string
  miss: string
  interrupts: string
  cpu: string
  why?: string | undefined
  isChoice: boolean
  hasHeader: boolean
}

export interface TimersAnswer {
  track: string
  rows: TimerRow[]
  choice?: string | undefined
  chosen?: TimerDetails | undefined
  leftOpen?: string | undefined
  refused: { way: string; why: string }[]
  unusableModes: { timers: string; says: string; why: string }[]
  best?: { oneHalfUs: number; zeroHalfUs: number } | undefined
}

export interface TimerDetails {
  id: string
  mode: string
  because: string
  settings: { register: string; value: string; says: string }[]
  loads: { register: string; one: string; zero: string; says: string }[]
  occupies: string[]
  status: string
  header?: string | undefined
  /** What to set in the design to mean this option. */
  set: { method: string; timer: number; prescaler: number; pin: string; inverted?: string | undefined }
}

export type ExportForm = 'html' | 'md' | 'json' | 'junit'

/** A change that helps, and the text with it. */
export interface ProposedChange {
  says: string
  text: string
}

/** A step of the beginning with its questions, as the page shows them. */
export interface AskedStep extends Step {
  questions: AskedQuestion[]
}

export interface AskedQuestion {
  id: QuestionId
  asks: string
  help: string
  kind: Question['kind']
  value: string
  usual: string
  max?: number
  choices: (Choice & { picture?: readonly Line[] })[]
}

/** A clause at the beginning of a design, and the step that decides it. */
export interface BegunRow {
  clause: ClauseId
  title: string
  about?: string
  step: StepId
  /** Of a row that is met. */
  margin?: number
  /** What shows it, where calculation does not. */
  needs?: string
  because: string
}

/** What the answers so far make, every other question at its usual answer. */
export interface Begun {
  started?: {
    text: string
    rows: BegunRow[]
    parts: Record<StepId, { fromLine: number; text: string }>
    figures: { label: string; value: string; margin?: number }[]
    feeders: [number, number][]
    tracks: { name: string; points: [number, number][]; label: string; grade: string }[]
    trackMm: number
    trains: { name: string; track: number; atMm: number }[]
  }
  refused?: {
    question?: QuestionId | undefined
    because: string
    nearest?: { says: string; changes: Given }
  }
}

export type DeskCalls = {
  /** What is asked at the beginning of a design; then, as it takes longer, `begin`. */
  ask: {
    takes: { given: Given }
    gives: { steps: AskedStep[]; problem?: { question: QuestionId; says: string } }
  }
  begin: { takes: { given: Given }; gives: Begun }
  /** Says that the early answer is drawn. */
  drawn: { takes: null; gives: undefined }
  judge: {
    takes: {
      text: string
      file: string
      runs: readonly RunEvidence[]
      /** SHA-256 of the firmware that the design names, where it was read but not run. */
      firmware?: string | undefined
    }
    gives: Judged
  }
  timers: { takes: { text: string; track: string; pick?: string | undefined }; gives: TimersAnswer }
  power: { takes: { text: string; isNarrow?: boolean }; gives: Report }
  track: { takes: { text: string; fault?: string | undefined }; gives: Report & { map?: TrackMapData } }
  'track advice': { takes: { text: string; fault?: string | undefined }; gives: string[] }
  book: { takes: { text: string; proof: Proof }; gives: BookScreen }
  traffic: { takes: { text: string }; gives: Report & { trains?: TrainsData } }
  /** An edit of the railroad: the whole new text, or why the reader will not have it. */
  edit: {
    takes: { text: string; action: TrackAction }
    gives: { text: string; says: string } | { refused: string }
  }
  'power changes': { takes: { text: string }; gives: ProposedChange[] }
  /** A proposal of `track advice`, by its place in the list. */
  'track change': { takes: { text: string; index: number }; gives: { text: string } | { refused: string } }
  /** A new part at a path, complete at once, or why it cannot be. */
  add: {
    takes: { text: string; path: readonly (string | number)[]; given?: unknown }
    gives: { text: string } | { refused: string }
  }
  /** @param text the design as it is now: the proof of another says so. */
  export: { takes: { proof: Proof; text: string; form: ExportForm }; gives: string }
}

/** What reading a signal gives: figures, evidence and the record to look at. */
export interface ReadSignal {
  output: string
  reading: SignalReading
  record: WaveRecord
  /** To ask the worker for a stretch of the file again; absent where it cannot be read in parts. */
  source?: number
  analog?: AnalogReading
}

/** How a capture is read, where the file or the design do not tell, or tell otherwise. */
export type CaptureSettings = Omit<CaptureOptions, 'firstSample'> & {
  /** The firmware build it was taken with: digits of its SHA-256. */
  build?: string | undefined
  probe?: 'rails' | 'logic' | undefined
  cutout?: boolean | undefined
  mode?: OutputMode | undefined
}

/** What a file is, from its first bytes. */
export interface CaptureLook {
  /** Undefined when it must be said. */
  format: CaptureFormat | undefined
  channels: string[]
  isAnalog: boolean
  /** Why it cannot be read as it is. */
  says?: string | undefined
}

export type BenchCalls = {
  capture: {
    takes: {
      file: Blob
      name: string
      text: string
      output?: string | undefined
      listed?: number | undefined
      settings?: CaptureSettings | undefined
    }
    gives: {
      read: ReadSignal
      evidence: RunEvidence
      dialect: string
      channels: string[]
      look: CaptureLook
      notes: string[]
      interrupted: boolean
    }
  }
  look: { takes: { file: Blob; settings: CaptureSettings }; gives: CaptureLook }
  stretch: { takes: { source: number; fromUs: number; toUs: number }; gives: WaveRecord | undefined }
  simulate: {
    takes: {
      firmware: Uint8Array
      name: string
      stimulus?: { text: string; name: string } | undefined
      text: string
      forUs: number
    }
    gives: { reads: ReadSignal[]; evidence: RunEvidence; report: SimulationReport; interrupted: boolean }
  }
  /** The built-in scenarios of the coupled bench. */
  scenarios: {
    takes: { firmware: Uint8Array; name: string; text: string }
    gives: { results: ScenarioResult[]; evidence: RunEvidence; interrupted: boolean }
  }
  /** One scenario file; absent results were stopped. */
  scenario: {
    takes: { firmware: Uint8Array; name: string; text: string; scenario: string; file: string }
    gives: { result?: ScenarioResult }
  }
}

/** What a running simulation says of itself. */
export interface Live {
  simulatedUs: number
  /** Times real time. */
  speed: number
  outputs: {
    name: string
    packets: number
    /** What the standard allows for a half of a one, us. */
    oneMinUs: number
    oneMaxUs: number
    oneLowUs: number
    oneHighUs: number
    zeroLowUs: number
    zeroHighUs: number
  }[]
}
