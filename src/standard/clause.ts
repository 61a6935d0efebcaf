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
  'conductor-heat',
  'joint-heat',
  'sense-stress',
  'fuse',
  'inrush',
  'gap-bridging',
  'isolation',
  'dead-level',
  'logic-level',
  'interruption',
  'start-up',
  'reset-guard',
  'service-current',
  'stack',
  'restart',
  'instruction-set',
  'interrupts',
  'deadline',
  'shared-data',
] as const

export type ClauseId = (typeof CLAUSE_IDS)[number]

export const ORIGINS = ['calculated', 'simulated', 'measured'] as const
export type Origin = (typeof ORIGINS)[number]

/** Where along the signal's path a clause is met or broken. */
export type ClauseStage = 'controller' | 'driver' | 'track' | 'trains' | 'packets' | 'record'

/** What is the same for a clause in every profile and edition; one row a clause, in `clause-facts.data.ts`. */
export interface ClauseFacts {
  /** What it speaks of: each output, district, driver and supply has its own row; the others are about the whole. */
  concerns: 'output' | 'district' | 'driver' | 'supply' | 'station' | 'firmware' | 'railroad'
  stage: ClauseStage
  /** Origins that can show it. */
  shownBy: readonly Origin[]
  /** Outputs, or districts of outputs, that owe it; all when absent. */
  owedBy?: { mode?: 'operations' | 'service'; cutout?: true; sense?: true }
  /** It is about what the station does, which a design can only declare: no calculation alone makes it `met`. */
  behaviour?: true
}

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

export interface Clause extends ClauseFacts {
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
  /**
   * No sheet of this profile that was seen binds the sender to it: where it fails, the verdict is `undecided`, never
   * `broken`.
   */
  unbound?: true
}
