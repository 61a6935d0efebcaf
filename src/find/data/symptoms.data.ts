/** What people notice before they measure, one entry each. */

export interface SymptomKind {
  title: string
  /** What its place may be: `does not move at NAME`. */
  place?: 'track' | 'locomotive'
}

export const SYMPTOMS = {
  'does not move': { title: 'a train does not move', place: 'locomotive' },
  'nothing moves': { title: 'no train moves' },
  'runs away': { title: 'a train runs away' },
  'stops at one place': { title: 'trains stop or stutter at one place', place: 'track' },
  forgets: { title: 'trains forget their speed or functions' },
  'reads fail': { title: 'reading a decoder on the service track fails' },
  'trips at power-up': { title: 'the district trips when it is switched on' },
  'trips while running': { title: 'the district trips in normal running' },
  'never trips': { title: 'a short does not trip the district' },
  'hot driver': { title: 'the driver gets hot' },
  'wrong timing': { title: 'a capture shows bits of wrong duration' },
  'late bits': { title: 'a capture shows single late edges' },
  'short preamble': { title: 'a capture shows too few preamble bits' },
  'garbled terminal': { title: 'the terminal shows garbage' },
} as const satisfies Record<string, SymptomKind>

export type SymptomId = keyof typeof SYMPTOMS

/** How often a symptom is noticed with a fault that causes it, and without; common practice, no source. */
export const SYMPTOM_SEEN = { caused: 0.8, otherwise: 0.04 } as const
