/** Clauses: testable demands of a published standard, or rules of sound practice, as data. */

export const CLAUSE_IDS = [
  'one-half',
  'one-difference',
  'zero-half',
  'zero-total',
  'glitch',
  'edge-rate',
  'crossing-distortion',
  'track-voltage-max',
  'track-voltage-min',
  'decoder-withstand',
  'preamble',
  'packet-length',
  'error-byte',
  'framing',
  'instruction',
  'same-address-gap',
  'packet-interval',
  'refresh',
  'command-latency',
  'stopping-distance',
  'service-sequence',
  'cutout-start',
  'cutout-end',
  'short-trip',
  'short-current',
  'voltage-drop',
  'driver-current',
  'driver-heat',
  'supply-current',
  'ack-detect',
  'polarity',
  'pin-current',
  'pin-conflict',
  'regulator-heat',
] as const

export type ClauseId = (typeof CLAUSE_IDS)[number]

/**
 * How the fact is known. `confirmed`: seen in the named document; `quoted`: seen in a secondary text quoting it;
 * `from memory`; `derived`: by arithmetic from confirmed facts; `common practice`: no source.
 */
export type FactStatus = 'confirmed' | 'quoted' | 'from memory' | 'derived' | 'common practice'

export interface Source {
  document: string
  edition: string
  section: string
  status: FactStatus
}

/** Inclusive limits in the clause's unit. */
export interface Limits {
  min?: number
  nominal?: number
  max?: number
}

export interface Clause {
  id: ClauseId
  /** A few words. */
  title: string
  /** The demand in one sentence, limits in words. */
  demand: string
  /** Symbol the standard uses, `t1`. */
  symbol?: string
  unit: string
  /** `station`: a published standard binds the sender of the signal; `builder`: a rule of sound practice. */
  binds: 'station' | 'builder'
  sender: Limits
  /** What a decoder must accept, where the standard says so; wider than `sender`. */
  receiver?: Limits
  /** The sender's limits in service mode, where they differ. */
  inService?: Limits
  source: Source
}
