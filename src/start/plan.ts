/** The plan of a railroad as the other parts of this room read it. Lengths in mm. */

export type Xy = readonly [number, number]

export interface PlanRun {
  name: string
  /** District by number. */
  district: number
  /** Feeds the part of a return loop between its gaps. */
  isReversed: boolean
  lengthMm: number
}

export interface PlanSection {
  name: string
  count: number
  /** Of one. */
  lengthMm: number
  from?: string
  to?: string
  gaps?: 'from' | 'to' | 'both'
  points?: readonly Xy[]
  arc?: { centre: Xy; radiusMm: number; from: number; to: number }
  run: string
  /** Of the first feeder along the run, and from one to the next. */
  feederAtMm: number
  feederStepMm: number
}

export interface PlanTurnout {
  name: string
  at: Xy
}

export interface Plan {
  /** What it is, in words for the file. */
  says: string
  runs: PlanRun[]
  sections: PlanSection[]
  turnouts: PlanTurnout[]
  turnoutMm: number
  /** Sections where trains stand, the roomiest first. */
  standing: string[]
  /** A dead end where a train has to stop. */
  deadEnd?: { section: string; lengthMm: number }
  trackMm: number
  /** Of a return loop, between its gaps. */
  loopMm?: number
}
