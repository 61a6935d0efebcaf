/** One step of the bring-up. */
import type { ReadingKind } from '../../meter/index.js'
import type { Figure, Said } from '../contents/figure.js'

export interface Step {
  id: string
  title: string
  /** The bring-up ends here, or one of its steps is left out; `off` says why. */
  stop?: true
  instrument: string
  probes: Said
  expected: Said
  /** The same as figures, for readings that are noted. */
  range?: { reading: ReadingKind; of: string; at?: string; low: Figure; high: Figure }
  /** What it means when it is off. */
  off: readonly Said[]
  /** What not to do next. */
  not: Said
}
