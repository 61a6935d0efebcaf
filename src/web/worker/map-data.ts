/** The railroad as the page draws it. */
import type { EndRef, Gap } from '../../track/index.js'

/** How a track stands in one layer of the map. */
export interface MapLook {
  grade: string
  label: string
}

/** A layer of voltage, with its figures. */
export interface VoltLook extends MapLook {
  volt?: number
  /** The least that the design's limits allow there. */
  leastVolt?: number
}

/** A place where tracks meet, or an end that meets nothing. */
export interface MapNode {
  /** `joint e`, `end of siding`. */
  id: string
  at: [number, number]
  /** The joint's name and state. */
  joint?: { name: string; gap: Gap; joiner: string } | undefined
  /** What a new section says to meet it; absent where no more can meet. */
  meets?: EndRef | undefined
  /** Where a track from a free end would lead, or how the rails of a joint run; degrees, from the right, growing downwards. */
  heading?: number | undefined
}

export interface MapFeeder {
  path: readonly (string | number)[]
  name: string
  bus: string
  at: [number, number]
}

/** A train or accessory that stands on the rails, or a train that stands nowhere yet. */
export interface MapStand {
  what: 'train' | 'accessory'
  name: string
  track?: number | undefined
  atMm: number
}

export interface MapWeakest {
  track: number
  atMm: number
  /** Its name, and what is there. */
  name: string
  says: string
}

/** One track of the map that can be touched. */
export interface MapTrack {
  name: string
  /** Key in the design file, and of which part. */
  group: string
  part: 'sections' | 'turnouts' | 'crossings' | 'turntables'
  /** How many the file writes as one row; 1 for a single one. */
  count: number
  lengthMm: number
  district: string
  /** x and y in mm, y downwards. */
  points: [number, number][]
  planned: VoltLook
  worst: VoltLook
  short: MapLook
  polarity: MapLook
  /** What is said when it is shorted. */
  says: string
}

export interface TrackMapData {
  tracks: MapTrack[]
  legend: Record<'volt' | 'short' | 'polarity', Record<string, string>>
  nodes: MapNode[]
  feeders: MapFeeder[]
  stands: MapStand[]
  runs: { name: string; district: string; lengthMm: number }[]
  districts: string[]
  drivers: string[]
  /** Faults that can be looked at, by kind. */
  faults: { kind: string; list: { id: string; name: string }[] }[]
  /** Where each layer is at its weakest, as an index of `tracks`, and what is said there. */
  weakest?: Record<'planned' | 'worst' | 'short', MapWeakest | undefined>
  /** The fault that the map shows, in words, and what it changes. */
  fault?: { id: string; says: string[] } | undefined
}
