/** The stops on the signal's way: what each is about, which part of the design it edits, which clauses it owes. */
import { CLAUSE_FACTS, CLAUSE_IDS, type ClauseId, type ClauseStage } from '../standard/index.js'

/** The clauses that are met or broken at a stage, in the order of the standard's table. */
function clausesAt(stage: ClauseStage): ClauseId[] {
  return CLAUSE_IDS.filter((id) => CLAUSE_FACTS[id].stage === stage)
}

export type StopId =
  | 'controller'
  | 'driver'
  | 'track'
  | 'trains'
  | 'packets'
  | 'waveform'
  | 'proof'
  | 'compare'

export interface Stop {
  id: StopId
  title: string
  /** One sentence for who comes here first. */
  about: string
  /** Keys of the design file that are edited here. */
  parts: readonly string[]
  clauses: readonly ClauseId[]
}

/** Along the line, in the signal's direction. */
export const LINE: readonly Stop[] = [
  {
    id: 'controller',
    title: 'Controller',
    about: 'A timer of the controller makes half-bits; the firmware loads the next one in time, or does not.',
    parts: ['controller', 'signal', 'firmware'],
    clauses: clausesAt('controller'),
  },
  {
    id: 'driver',
    title: 'Driver',
    about: 'The driver turns the pin’s level into track power, and must survive what the track does to it.',
    parts: ['power'],
    clauses: clausesAt('driver'),
  },
  {
    id: 'track',
    title: 'Bus and track',
    about: 'Wires, rails and joints carry volts to the trains and amperes back into the trip.',
    parts: ['scale', 'track'],
    clauses: clausesAt('track'),
  },
  {
    id: 'trains',
    title: 'Decoders and trains',
    about: 'What runs, how often each decoder hears of its state, and where a train stops.',
    parts: ['fleet', 'traffic', 'rollingStock'],
    clauses: clausesAt('trains'),
  },
]

/** What flows above the line. */
export const ABOVE: readonly Stop[] = [
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
    about: 'What was recorded on the rails or on a pin, edge by edge.',
    parts: ['captures'],
    clauses: clausesAt('record'),
  },
]

/** At the end of the line. */
export const PROOF: Stop = {
  id: 'proof',
  title: 'Proof',
  about: 'Every clause, and what calculation, simulation and measurement show of it.',
  parts: ['name', 'about', 'standard', 'scale', 'require'],
  clauses: [],
}

/** Beside the line: two of it. */
export const COMPARE: Stop = {
  id: 'compare',
  title: 'Compare',
  about: 'Two designs, firmware builds or captures side by side: what changed, clause by clause.',
  parts: ['name', 'about', 'standard', 'scale', 'require'],
  clauses: [],
}

export const STOPS: readonly Stop[] = [...LINE, ...ABOVE, PROOF, COMPARE]

export function stopOf(clause: ClauseId): Stop {
  return STOPS.find((stop) => stop.clauses.includes(clause)) ?? PROOF
}
