/** The build book of a design as data; pages are made from it. */
import { isSimulated } from '../../controller/index.js'
import type { LoadedDesign } from '../../design/index.js'
import { careFor, driverPart } from '../../power/index.js'
import { type Proof, rowName, verdictText } from '../../proof/index.js'
import { type Hazards, hazardsOf } from '../bring-up/hazards.js'
import type { Step } from '../bring-up/step.js'
import { beforeBringUp, bringUp } from '../bring-up/steps.js'
import { type BuildComparison, compareBuilds, type NoteRow, noteRows } from '../notes/compare.js'
import { type Wiring, wiringOf } from '../wiring/connections.js'
import { type Diagram, layDiagram } from '../wiring/diagram.js'
import { type WireOrder, type WireRow, wireOrders, wireRows } from '../wiring/gauges.js'
import { type DiagramSheet, diagramSheets } from '../wiring/sheets.js'
import { capacitorsAt } from './behind-limiter.js'
import { controllerSupply } from './controller-supply.js'
import { driverTerminals } from './driver-terminals.js'
import { plain, type Said, said } from './figure.js'
import { firmwareLines } from './firmware.js'
import { type LocomotiveRow, locomotives } from './locomotives.js'
import type { BookOptions } from './options.js'
import { type PartRow, partsOf } from './parts.js'
import { sensingNotes } from './sensing.js'
import {
  type ConstantRow,
  constants,
  jumpers,
  type PinRow,
  pinTable,
  protectionSettings,
  type SettingRow,
  settings,
  singleFaults,
} from './settings.js'
import { type BookSources, bookSources } from './sources.js'
import { busNotes } from './track-parts.js'
import { type TrackRow, trackMap, trackTable, turnoutNotes } from './track-table.js'
import { type Unmet, unmet } from './unmet.js'

export interface Book {
  halfbit: 1
  kind: 'book'
  name: string
  about?: string
  date?: string
  /** Digits by which bench notes name this state of the design. */
  sum: string
  version: string
  /** Verdict of the proof in words. */
  headline: string
  verdict: Proof['verdict']
  counts: Proof['counts']
  /** What it is, in sentences. */
  is: Said[]
  can: string[]
  /** What is broken, undecided or not shown. */
  cannot: Unmet[]
  /** What forbids to switch it on, or to put a train on its rails. */
  hazards: Hazards
  cautions: string[]
  parts: PartRow[]
  /** What the supply of the controller must give, and what its ground is joined with. */
  controllerSupply: Said[]
  wiring: Wiring
  /** Sections and legs of turnouts, as they are laid. */
  track: TrackRow[]
  /** What the turnouts must be for the calculation to hold. */
  turnouts: string[]
  /** What the figures were worked out for, and how decoders are set. */
  locomotives: LocomotiveRow[]
  /** How the buses run and feeders are joined with them. */
  buses: Said[]
  /** How the wires that read the current are joined, and which are short. */
  sensing: Said[]
  wires: WireRow[]
  orders: WireOrder[]
  pins: PinRow[]
  jumpers: string[]
  settings: SettingRow[]
  protection: Said[]
  /** Faults of the power stage with which a short may not end. */
  singleFaults: Said[]
  constants: readonly ConstantRow[]
  firmware: string[]
  /** What this book leaves to others, such as data sheets. */
  leaves: string[]
  /** What to know and have at hand before the first step. */
  before: string[]
  steps: Step[]
  notes: NoteRow[]
  builds: BuildComparison[]
}

export interface MadeBook {
  book: Book
  /** The whole diagram in one drawing, and the same in sheets for paper. */
  diagram: Diagram
  sheets: DiagramSheet[]
  /** Where the sections lie, SVG; absent without a track. */
  map?: string
  sources: BookSources
}

export function makeBook(loaded: LoadedDesign, proof: Proof, options: BookOptions): MadeBook {
  const sources = bookSources(loaded, proof, options)
  const { design } = loaded
  const wiring = wiringOf(sources)
  const wires = wireRows(wiring, sources)
  const hazards = hazardsOf(proof, sources.power)
  const steps = bringUp(sources, hazards)
  const book: Book = {
    halfbit: 1,
    kind: 'book',
    name: design.name,
    ...(design.about === undefined ? {} : { about: design.about }),
    ...(options.date === undefined ? {} : { date: options.date }),
    sum: sources.sum,
    version: proof.about.version,
    headline: verdictText(proof),
    verdict: proof.verdict,
    counts: proof.counts,
    is: whatItIs(sources),
    can: proof.rows.filter((r) => r.verdict === 'met').map((r) => `${rowName(r)}: ${r.title}`),
    cannot: proof.rows.filter((r) => r.verdict !== 'met').map(unmet),
    hazards,
    cautions: [
      ...new Set([
        ...careFor('supply', 'fuse', 'outputs', 'trip', 'heat'),
        ...(proof.about.cautions ?? []).map((c) => c.sentence),
      ]),
    ],
    parts: partsOf(sources),
    controllerSupply: controllerSupply(sources, wiring),
    wiring,
    track: trackTable(sources),
    turnouts: turnoutNotes(sources),
    locomotives: locomotives(sources),
    buses: busNotes(sources),
    sensing: sensingNotes(sources, wiring),
    wires,
    orders: wireOrders(wires),
    pins: pinTable(sources),
    jumpers: jumpers(sources),
    settings: settings(sources),
    protection: protectionSettings(sources),
    singleFaults: singleFaults(sources),
    constants: constants(sources),
    firmware: firmwareLines(sources),
    leaves: leavesTo(sources),
    before: beforeBringUp(steps),
    steps,
    notes: noteRows(design.benchNotes, steps),
    builds: compareBuilds(design.benchNotes),
  }
  const map = trackMap(sources)
  return {
    book,
    diagram: layDiagram(wiring),
    sheets: diagramSheets(wiring),
    sources,
    ...(map === undefined ? {} : { map }),
  }
}

function whatItIs({ loaded, proof, figures: f, stages, track }: BookSources): Said[] {
  const { design } = loaded
  const outputs = Object.entries(design.signal.outputs)
  const list: Said[] = [
    plain(
      `A command station for ${proof.profile.scale} scale after ${proof.profile.title}, edition ${proof.profile.edition}.`,
    ),
    ...outputs.map(([name, o]) =>
      plain(
        `Output ${name} on ${o.pin}, ${o.mode === 'service' ? 'for setting decoders (service mode)' : 'for running trains (operations mode)'}${o.cutout ? ', with a bidirectional cut-out' : ''}.`,
      ),
    ),
  ]
  for (const { name } of stages) {
    const trip = f.at('A', 'design', 'power', 'districts', name, 'trip', 'current')
    const volt = f.at('V', 'power', 'districts', name, 'source', 'nominalVolt')
    const worst = f.at('A', 'power', 'districts', name, 'load', 'worstAmp')
    if (volt)
      list.push(
        said`${`District ${name}: `}${volt}${worst && worst.value > 0 ? said`, planned for up to ${worst}` : plain(worst ? ', with no train of the plan in it' : '')}${trip ? said`, switched off above ${trip}` : plain(', with nothing that trips')}.`,
      )
  }
  if (track) {
    const trains = Object.keys(design.rollingStock ?? {})
    if (trains.length > 0) list.push(plain(`Planned for ${trains.join(', ')}.`))
  }
  return list
}

function leavesTo(s: BookSources): string[] {
  const { stages, loaded } = s
  const { controller, power } = loaded.design
  const list = [
    'Pin names such as PB2 are those of the chip: the pinout in its data sheet, or the drawing of the board, says where they are.',
  ]
  for (const name of new Set(stages.map((d) => d.driverName))) {
    const stage = stages.find((d) => d.driverName === name)!
    const capacitors = capacitorsAt(stage)
    const { pins } = power!.drivers[name]!
    list.push(
      driverPart(stage.model.name)?.driven
        ? `Driver ${name}: ${capacitors.charAt(0).toLowerCase()}${capacitors.slice(1)}`
        : `Driver ${name} may have more inputs than the pin table names (logic supply, sleep, mode, current limit). Tie them as its data sheet says for the way this book drives it${pins ? `: ${pins.map((p) => `${p.name} as ${p.role}`).join(', ')}` : ''}. ${capacitors}`,
    )
  }
  list.push(...driverTerminals(s))
  for (const model of new Set(stages.map((d) => d.model.name))) {
    const known = driverPart(model)?.terminals
    if (known)
      list.push(
        `Terminals of the ${model} itself, ${known.package}, from memory (the data sheet in hand decides; a driver board has names of its own): ${known.pins.map((p, i) => `${i + 1} ${p}`).join(', ')}.`,
      )
  }
  if (isSimulated(controller.chip) && stages.some((d) => d.district.sense))
    list.push(
      'The firmware chooses the reference of the converter. Leave the pin AREF alone, but for a small capacitor to ground as the data sheet shows it: a voltage on it is joined to the reference inside the chip (data sheets of these chips, section “ADC Voltage Reference”, from memory).',
    )
  if (controller.clock.source === 'crystal' || controller.clock.source === 'resonator')
    list.push(
      'On a bare chip the crystal or resonator needs what its own data sheet asks for; a board has it.',
    )
  list.push(
    'The case, connectors and how wires are fastened: choose connectors and terminals for the fuse or supply before them, fasten every wire so that a pull does not reach its terminal, and keep extra-low voltage apart from mains.',
  )
  return list
}
