/** What a railroad's layout is made of, before it has resistances. */
import type { AlloyName, JoinerName } from '../conductors/conductor.data.js'
import type { BusRunDesign, RollingStockDesign, TrackDesign } from '../design/track.js'

export type Path = readonly (string | number)[]

/** A stretch of two rails between two ends. A turnout has three, from its hub outwards. */
export interface Track {
  /** Name for people and in the file: `main.3`, `T1`. */
  name: string
  /** Which leg of a turnout or crossing; '' for a section. */
  leg: string
  /** What it belongs to: the name in the file. */
  group: string
  /** Number in its group, from 0, and how many there are. */
  index: number
  count: number
  kind: 'section' | 'turnout' | 'crossing' | 'slip' | 'turntable'
  lengthMm: number
  code: number
  alloy: AlloyName
  /** Ends with the same hub number share their rails directly, L with L; −1: none. */
  fromHub: number
  toHub: number
  path: Path
}

/** End 2·t is the `from` end of track t, 2·t + 1 its `to` end. */
export interface Joint {
  name: string
  a: number
  b: number
  joiner: JoinerName
  /** Cut rails, L and R of the track of end `a`. */
  gapL: boolean
  gapR: boolean
  /** Rails whose joiner is bad while the other's is not; by a fault that is tried. */
  bad?: { L: boolean; R: boolean }
  /** Rails change sides between its two ends; only where a stretch without feed between them does so. */
  crossed?: boolean
  path: Path
}

export interface Run {
  name: string
  district: string
  design: BusRunDesign
  /** Index of the run it branches off; −1: the station. */
  parent: number
  atMm: number
  /** Its switch is in a position in which nothing feeds it. */
  off?: boolean
  /** Its switch swaps its two wires. */
  turned?: boolean
  path: Path
}

export interface Feeder {
  /** `main.3`, with a number behind when the section has several. */
  name: string
  run: number
  busMm: number
  track: number
  railMm: number
  wire: string
  lengthMm: number
  swapped: boolean
  open: boolean
  /** Broken wires, by a fault that is tried: unlike with `open` the rails may be without feed. */
  broken?: { A: boolean; B: boolean }
  path: Path
}

export type LoadLaw = 'current' | 'power' | 'resistor'

/** A train or accessory that stands somewhere. */
export interface Stand {
  name: string
  train: boolean
  /** Track and place on it; track −1: on the bus run. */
  track: number
  atMm: number
  run: number
  amp: number
  law: LoadLaw
  /** Voltage without load that its current is told at, by corner; that of the network itself when left out. */
  openVolt?: Readonly<Record<'low' | 'high', number>>
  path: Path
}

export interface TrackLayout {
  tracks: Track[]
  joints: Joint[]
  /** Where the bridges of turntables meet their roads: never joined, but a wheel passes from one to the other. */
  roads: Joint[]
  /** Ends that meet nothing. */
  openEnds: number[]
  runs: Run[]
  feeders: Feeder[]
  stands: Stand[]
  /** Hub number → the ends at it. */
  hubs: number[][]
  design: TrackDesign
  rollingStock: RollingStockDesign
  /** Sentences about things that may be slips: a place name used by one end only. */
  remarks: string[]
}

/** L meets L and R meets R: one end is a `to` end, the other a `from` end. */
export function jointKeepsRails(joint: { a: number; b: number; crossed?: boolean }): boolean {
  return ((joint.a & 1) !== (joint.b & 1)) !== (joint.crossed ?? false)
}

/** Joints at which one rail is cut or both are, and the roads of turntables: whatever a wheel can bridge. */
export function gapsOf(plan: TrackLayout): Joint[] {
  return [...plan.joints.filter((j) => j.gapL || j.gapR), ...plan.roads]
}
