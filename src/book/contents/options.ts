/** What the builder chooses of a book. */

/** What a wire carries; each has a colour. */
export const WIRE_ROLES = [
  'supply plus',
  'supply minus',
  'logic supply',
  'ground',
  'signal',
  'enable',
  'sense',
  'rail A',
  'rail B',
] as const
export type WireRole = (typeof WIRE_ROLES)[number]

/** Resistor before a converter pin whose filter the design gives without one, Ohm; common practice, no source. */
export const USUAL_SERIES_OHM = 1000

/** What a controller board with nothing else on it may take, A; common practice, no source. */
export const USUAL_CONTROLLER_AMP = 0.1

export interface BookOptions {
  colours: Readonly<Record<WireRole, string>>
  /** Length of each wire between the parts of the station, mm. */
  leadMm: number
  /** ISO date of the book; absent where the builder wants none. */
  date?: string
}

/** Usual colours; common practice, no source. */
export const USUAL_COLOURS: BookOptions['colours'] = {
  'supply plus': 'red',
  'supply minus': 'black',
  'logic supply': 'orange',
  ground: 'black',
  signal: 'yellow',
  enable: 'blue',
  sense: 'violet',
  'rail A': 'brown',
  'rail B': 'white',
}

/** Half a metre of wire reaches any part of a station in one case; assumed. */
export const USUAL_LEAD_MM = 500
