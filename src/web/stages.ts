/** The stages of the signal's path: what each is about, which part of the design it edits, which clauses it must meet. */
import { CLAUSE_FACTS, CLAUSE_IDS, type ClauseId, type ClauseStage } from '../standard/index.js'

/** The clauses that are met or broken at a stage, in the order of the standard's table. */
function clausesAt(stage: ClauseStage): ClauseId[] {
  return CLAUSE_IDS.filter((id) => CLAUSE_FACTS[id].stage === stage)
}

export type StageId =
  | 'controller'
  | 'driver'
  | 'track'
  | 'trains'
  | 'packets'
  | 'waveform'
  | 'bench'
  | 'proof'
  | 'compare'

export interface Stage {
  id: StageId
  title: string
  /** One sentence for those new to it. */
  about: string
  /** Keys of the design file that are edited here. */
  parts: readonly string[]
  clauses: readonly ClauseId[]
}

/** Along the line, in the signal's direction. */
export const MAIN_LINE: readonly Stage[] = [
  {
    id: 'controller',
    title: 'Controller',
    about: 'A timer of the controller makes the half-bits; the firmware must load the next one in time.',
    parts: ['controller', 'signal', 'firmware'],
    clauses: clausesAt('controller'),
  },
  {
    id: 'driver',
    title: 'Driver',
    about: 'The driver turns the pin’s level into track power, and must survive overloads and shorts.',
    parts: ['power'],
    clauses: clausesAt('driver'),
  },
  {
    id: 'track',
    title: 'Track',
    about:
      'The bus, rails and joints carry voltage to the trains, and the current of a short back to the trip.',
    parts: ['scale', 'track'],
    clauses: clausesAt('track'),
  },
  {
    id: 'trains',
    title: 'Trains',
    about: 'What runs, how often each decoder is refreshed, and where a train stops.',
    parts: ['fleet', 'traffic', 'rollingStock'],
    clauses: clausesAt('trains'),
  },
]

/** What flows along the line. */
export const UPPER_LINE: readonly Stage[] = [
  {
    id: 'packets',
    title: 'Packets',
    about: 'Bytes and their meaning: make a packet, or read one.',
    parts: ['standard', 'signal'],
    clauses: clausesAt('packets'),
  },
  {
    id: 'waveform',
    title: 'Waveform',
    about: 'A signal recorded on the rails or simulated at a pin, edge by edge.',
    parts: ['captures'],
    clauses: clausesAt('record'),
  },
]

/** Everything at once. */
export const BENCH: Stage = {
  id: 'bench',
  title: 'Bench',
  about:
    'Firmware, drivers, rails and decoders run together: shorts, a start of everything at once, a restart.',
  parts: ['firmware', 'power', 'fleet'],
  clauses: [],
}

/** At the end of the line. */
export const PROOF: Stage = {
  id: 'proof',
  title: 'Proof',
  about: 'Every clause, with what calculation, simulation and measurement show.',
  parts: ['name', 'about', 'standard', 'scale', 'require'],
  clauses: [],
}

/** Two designs, beside the line. */
export const COMPARE: Stage = {
  id: 'compare',
  title: 'Compare',
  about: 'Two designs, firmware builds or captures side by side: what changed, clause by clause.',
  parts: ['name', 'about', 'standard', 'scale', 'require'],
  clauses: [],
}

export const STAGES: readonly Stage[] = [...MAIN_LINE, ...UPPER_LINE, BENCH, PROOF, COMPARE]

export function stageOf(clause: ClauseId): Stage {
  return STAGES.find((stage) => stage.clauses.includes(clause)) ?? PROOF
}
