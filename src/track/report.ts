/** What `calculateTrack` returns: plain data for tables, drawings, JSON and the workbench. */
import type { Evidence } from '../standard/index.js'
import type { Range } from './conductors/conductor.data.js'
import type { GapFigure } from './gaps/bridging.js'
import type { CommonRail } from './gaps/isolation.js'
import type { HotConductor } from './heat/conductors.js'
import type { HotJoint, UnratedSwitch } from './heat/joints.js'
import type { HotTerminator } from './heat/terminators.js'
import type { Path } from './layout/layout.js'
import type { MixedReverser, OpposedGap, ReversedStretch, SharedReverser } from './polarity/opposed-gaps.js'
import type { PolarityRoute, ReverserCheck } from './polarity/routes.js'
import type { SwappedFeeder } from './polarity/swapped-feeders.js'
import type { RingingReport } from './ringing/report.js'
import type { Situation } from './situations.js'

/** From the unfavourable corner (lowest supply, highest resistances) to the favourable one. */
export interface Span {
  low: number
  high: number
}

export interface SectionFigure {
  name: string
  district: string
  lengthMm: number
  /** Lowest voltage on it with the trains where they stand. */
  volt: Span
  /** Lowest voltage with the worst arrangement of trains; without trains undefined. */
  envelopeVolt: number | undefined
  boundVolt: number | undefined
  /** What its district carries then, A. */
  envelopeAmp: number | undefined
  /** What wires and rails would let through at its weakest place, A. */
  prospectiveAmp: number
  /** Weakest short on it, limited to what the source delivers, A. */
  shortAmp: Span
  /** As a share of the trip current. */
  shortShare: Span | undefined
  /** Until it is off, us; null: never. */
  tripUs: number | null | undefined
  /** The same in the favourable case, at whichever place of it takes longest. */
  tripBestUs: number | null | undefined
  /** Place of the weakest short. */
  shortPlace: string
}

export interface JointFigure {
  name: string
  /** Weaker side of the joint, A: what wires and rails let through, and what the source delivers of it. */
  prospectiveAmp: number
  shortAmp: number
  shortShare: number | undefined
  tripUs: number | null | undefined
}

export interface DistrictFigure {
  name: string
  openVolt: Range
  sourceOhm: number
  /** With the driver just switched on and least losses, Ohm. */
  sourceLeastOhm: number
  tripAmp: number | undefined
  /** The lowest end of the trip's band, where it has one. */
  tripLowAmp: number | undefined
  /** What its source surely delivers into a short beside the others, and at most, A; undefined without a limit. */
  limitAmp: number | undefined
  limitHighAmp: number | undefined
  /**
   * Where the driver stands a short least long for what it lasts: the current, until it is off, how long the driver
   * stands it (us; null: indefinitely; absent: not known). Undefined where nothing trips or the driver tells nothing.
   */
  endurance:
    | {
        place: string
        amp: number
        tripUs: number
        standsUs?: number | null
        because: string
        holds: { unfavourable: boolean; favourable: boolean }
      }
    | undefined
  /** With the trains where they stand. */
  loadAmp: Span
  lengthMm: number
  trains: string[]
  worstVolt: Span
  worstVoltPlace: string
  weakestShort: Span
  weakestShortPlace: string
  /** Wires and rails to the farthest place and back, without the source, Ohm. */
  wiringOhm: number
}

export interface ArrangementFigure {
  district: string
  situation: 'running' | 'stalled'
  place: string
  /** As arranged, from the unfavourable corner to the favourable one, V. */
  volt: Span
  /** No arrangement gives less, V. */
  boundVolt: number
  amp: number
  trains: string[]
  /** The train that is stalled; `assumed`: its stall current is not in the design. */
  stalled?: { train: string; assumed: boolean }
  /** The train would draw more than trips the district; it is left at that. */
  tripLimited: boolean
}

export interface FaultFigure {
  /** For `reportFault`, `halfbit track --fault`. */
  id: string
  kind: string
  name: string
  /** No feed, no solution: there is no voltage then. */
  state: 'solved' | 'no feed' | 'no solution'
  volt: number | undefined
  voltPlace: string
  lostVolt: number | undefined
  short: number | undefined
  shortPlace: string
  idle: number | undefined
  /** Whether a short still trips anywhere with it; undefined where that is not known. */
  protects: boolean | undefined
  path: Path
}

export interface Finding {
  severity: 'error' | 'warning' | 'note'
  text: string
  /** No clause is about it, so that a proof has to say it beside them. */
  unjudged?: true
  path?: Path
}

export interface TrackReport {
  sections: SectionFigure[]
  joints: JointFigure[]
  districts: DistrictFigure[]
  trains: { name: string; section: string; volt: Span; amp: Span; brownOut: boolean }[]
  /** `brownOut`: decoders would switch off there; the volts are then what would be left if they went on drawing. */
  envelope:
    | { place: string; volt: number; boundVolt: number; arrangement: string[]; brownOut: boolean }
    | undefined
  /** The worst of every district: all trains running, and one of them stalled. */
  arrangements: ArrangementFigure[]
  shorts: {
    contactOhm: number
    reserve: number
    weakest: string
    heat:
      | {
          place: string
          conductor: string
          amp: number
          timeUs: number
          riseK: number
          contactJoule: number
          exact: boolean
        }
      | undefined
  }
  faults: { list: FaultFigure[]; skipped: number }
  /**
   * `swapped`: feeders given the wrong way round; `opposed`: gaps with the opposite polarity beyond them; `stretches`: what
   * reversers feed, held against the longest train; `shared`: reversers that turn several stretches at once; `mixed`: reversers on rails
   * that something else feeds too; `untold`: turntables whose reverser is not described.
   */
  polarity: {
    swapped: SwappedFeeder[]
    opposed: OpposedGap[]
    routes: PolarityRoute[]
    uncounted: number
    reversers: ReverserCheck[]
    stretches: ReversedStretch[]
    shared: SharedReverser[]
    mixed: MixedReverser[]
    untold: string[]
  }
  /** Of every district what gets hottest at the current that may flow continuously. */
  heat: {
    conductors: HotConductor[]
    joints: HotJoint[]
    unrated: UnratedSwitch[]
    terminators: HotTerminator[]
  }
  /** What a wheel across each gap does. */
  gaps: GapFigure[]
  /** Districts that share a rail. */
  commonRails: CommonRail[]
  situations: Situation[]
  /** Joints left open in the calculation because a rail meets its opposite there. */
  cutForPolarity: string[]
  conductors: { name: string; use: string; metres: number; ohmPerM: Range; areaMm2: number }[]
  ringing: RingingReport | undefined
  findings: Finding[]
  cautions: string[]
  evidence: Evidence[]
  converged: boolean
}
