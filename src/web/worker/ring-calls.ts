/** What the page can ask of the worker for edges. */
import type { Figure } from './calls.js'

export interface RingAnswer {
  place: string
  figure: Figure
  /** Name and figure, with what it is held against. */
  rows: [string, string][]
  /** Peak above what decoders must withstand. */
  tooHigh: boolean
  netlist: string
  by: 'ladder' | 'SPICE'
}

export type RingCalls = {
  at: {
    takes: { text: string; section: string; atMm?: number | undefined; search: boolean; spice: boolean }
    gives: RingAnswer
  }
}
