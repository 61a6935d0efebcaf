/**
 * The stages of the signal's path, in one list. To add a stage:
 *
 * 1. Write its view, `src/web/views/NAME.tsx`, which exports a component without props. `StageBody` gives it the usual
 *    layout: a large figure, what the stage must meet, the state of runs.
 * 2. Add one entry to `ENTRIES` below, at its place in the row. `view` loads the component when the stage is first opened.
 *    Without `line` the row shows the smallest margin of its `clauses`; a stage without clauses brings a `line` of its own
 *    (`shell/stage-lines.tsx`; `TextLine` for a few fixed words).
 *
 * The signal path, the keys, the address, the forms, the proof by stage and the pictures of `scripts/screenshots.mjs` all
 * follow from this list.
 */
import type { ComponentType } from 'preact'
import { CLAUSE_FACTS, CLAUSE_IDS, type ClauseId, type ClauseStage } from '../standard/index.js'
import { BenchLine, ProofLine, TextLine } from './shell/stage-lines.js'

/** The clauses that are met or broken at a stage, in the order of the standard's table. */
function clausesAt(stage: ClauseStage): ClauseId[] {
  return CLAUSE_IDS.filter((id) => CLAUSE_FACTS[id].stage === stage)
}

interface Entry {
  /** Its address in the page. */
  id: string
  title: string
  /** Strokes of a drawing 16 units wide and high, an SVG path. */
  icon: string
  /** One sentence for those new to it. */
  about: string
  /** Keys of the design file that are edited here. */
  parts: readonly string[]
  clauses: readonly ClauseId[]
  /** Under its name in the signal path; the smallest margin of its clauses where left out. */
  line?: ComponentType
  view: () => Promise<ComponentType>
}

const ENTRIES = [
  {
    id: 'controller',
    title: 'Controller',
    icon: 'M4 4h8v8H4zM6 4V1M10 4V1M6 15v-3M10 15v-3M4 6H1M4 10H1M15 6h-3M15 10h-3',
    about: 'A timer of the controller makes the half-bits; the firmware must load the next one in time.',
    parts: ['controller', 'signal', 'firmware'],
    clauses: clausesAt('controller'),
    view: async () => (await import('./views/controller.js')).ControllerView,
  },
  {
    id: 'driver',
    title: 'Driver',
    icon: 'M3 2v12l10-6zM13 8h3M0 8h3',
    about: 'The driver turns the pin’s level into track power, and must survive overloads and shorts.',
    parts: ['power'],
    clauses: clausesAt('driver'),
    view: async () => (await import('./views/reports.js')).DriverView,
  },
  {
    id: 'track',
    title: 'Track',
    icon: 'M1 5h14M1 11h14M3 3v10M8 3v10M13 3v10',
    about:
      'The bus, rails and joints carry voltage to the trains, and the current of a short back to the trip.',
    parts: ['scale', 'track'],
    clauses: clausesAt('track'),
    view: async () => (await import('./views/reports.js')).TrackView,
  },
  {
    id: 'trains',
    title: 'Trains',
    icon: 'M1 11h14V8l-3-3H1zM3 13.5a1.5 1.5 0 1 0 .1 0M12 13.5a1.5 1.5 0 1 0 .1 0M9 5v3h6',
    about: 'What runs, how often each decoder is refreshed, and where a train stops.',
    parts: ['fleet', 'traffic', 'rollingStock'],
    clauses: clausesAt('trains'),
    view: async () => (await import('./views/trains.js')).TrainsView,
  },
  {
    id: 'packets',
    title: 'Packets',
    icon: 'M1 5h14v6H1zM5 5v6M8 5v6M11 5v6',
    about: 'Bytes and their meaning: make a packet, or read one.',
    parts: ['standard', 'signal'],
    clauses: clausesAt('packets'),
    view: async () => (await import('./views/packets.js')).PacketsView,
  },
  {
    id: 'waveform',
    title: 'Waveform',
    icon: 'M0 12h2V4h3v8h2V4h2v8h3V4h2v8h2',
    about: 'A signal recorded on the rails or simulated at a pin, edge by edge.',
    parts: ['captures'],
    clauses: clausesAt('record'),
    view: async () => (await import('./views/waveform.js')).WaveformView,
  },
  {
    id: 'bench',
    title: 'Bench',
    icon: 'M2 1v14M2 4h8M2 8h12M2 12h5',
    about:
      'Firmware, drivers, rails and decoders run together: shorts, a start of everything at once, a restart.',
    parts: ['firmware', 'power', 'fleet'],
    clauses: [],
    line: BenchLine,
    view: async () => (await import('./views/bench.js')).BenchView,
  },
  {
    id: 'proof',
    title: 'Proof',
    icon: 'M3 1h10v14H3zM5.5 8l2 2 3.5-4',
    about: 'Every clause, with what calculation, simulation and measurement show.',
    parts: ['name', 'about', 'standard', 'scale', 'require', 'variants'],
    clauses: [],
    line: ProofLine,
    view: async () => (await import('./views/proof.js')).ProofView,
  },
  {
    id: 'book',
    title: 'Book',
    icon: 'M2 2h5l1 1 1-1h5v11H9l-1 1-1-1H2zM8 3v11',
    about: 'What a stranger needs to build it: parts, wiring, and the steps from first power to first train.',
    parts: ['benchNotes'],
    clauses: [],
    line: TextLine('build and measure'),
    view: async () => (await import('./views/book.js')).BookView,
  },
  {
    id: 'find',
    title: 'Fault finder',
    icon: 'M6.5 1.5a5 5 0 1 0 .1 0M10 10l5 5M6.5 4v3M6.5 9v.5',
    about: 'From what was noticed and measured on the bench to what is wrong, one reading after the other.',
    parts: ['benchNotes'],
    clauses: [],
    line: TextLine('symptom to cause'),
    view: async () => (await import('./views/find.js')).FindView,
  },
  {
    id: 'compare',
    title: 'Compare',
    icon: 'M2 3h4v10H2zM10 3h4v10h-4zM7 6h2M7 10h2',
    about: 'Two designs, firmware builds or captures side by side: what changed, clause by clause.',
    parts: ['name', 'about', 'standard', 'scale', 'require'],
    clauses: [],
    line: TextLine('A vs. B'),
    view: async () => (await import('./views/compare.js')).CompareView,
  },
] as const satisfies readonly Entry[]

export type StageId = (typeof ENTRIES)[number]['id']

export interface Stage extends Entry {
  id: StageId
}

export const STAGES: readonly Stage[] = ENTRIES

export function stageBy(id: StageId): Stage {
  return STAGES.find((stage) => stage.id === id)!
}

/** Where the page opens, and where clauses go that no stage has. */
export const PROOF: Stage = stageBy('proof')

export function stageOf(clause: ClauseId): Stage {
  return STAGES.find((stage) => stage.clauses.includes(clause)) ?? PROOF
}
