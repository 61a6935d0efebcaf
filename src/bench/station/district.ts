/** One power district: its driver by the controller's pins, and everything that can take power off it. */
import { junctionOf, settled, type ThermalState, warm } from '../../power/index.js'
import { driverOutput } from '../electrical/driver.js'
import { Melting } from '../electrical/melting.js'
import type { DriverOutput } from '../electrical/parts.js'
import type { Rails } from '../electrical/rails.js'
import { SenseFilter } from '../electrical/sense-filter.js'
import type { Line } from './line.js'
import type { BenchBreaker, BenchDistrict } from './setup.js'

/** Common practice, no source: a part that has shut down for heat starts again so much cooler, K. */
const COOLS_K = 20

/** A breaker or a driver's own trip: over its current, waiting, open. */
export class Opening {
  readonly plan: BenchBreaker
  /** Over its current since then, us; Infinity while it is not. */
  overUs = Number.POSITIVE_INFINITY
  isOpen = false

  constructor(plan: BenchBreaker) {
    this.plan = plan
  }
}

export class DistrictStation {
  readonly plan: BenchDistrict
  readonly source: number
  readonly line: Line | undefined
  readonly filter: SenseFilter | undefined
  readonly breaker: Opening | undefined
  readonly ownTrip: Opening | undefined
  readonly fuse: Melting | undefined
  isHot = false
  /** What the inputs of the driver ask for. */
  wanted: DriverOutput = 'open'
  /** Both inputs are at one level for a cut-out: the rails carry nothing, and power is not switched off. */
  inCutout = false
  /** When its inputs made it short its supply for the first time, us. */
  shortedAtUs: number | undefined
  #shortsSinceUs = Number.NaN
  peakAmp = 0
  hottestC: number
  #heat: ThermalState

  constructor(plan: BenchDistrict, source: number, line: Line | undefined, rails: Rails) {
    this.plan = plan
    this.source = source
    this.line = line
    this.filter = plan.sense && new SenseFilter(rails, source, plan.sense.filterUs)
    this.breaker = plan.breaker && new Opening(plan.breaker)
    this.ownTrip = plan.ownTrip && new Opening(plan.ownTrip)
    this.fuse = plan.fuseAmp === undefined ? undefined : new Melting(plan.fuseAmp, plan.fuseKind)
    this.#heat = plan.heat ? settled(plan.heat.model, 0) : []
    this.hottestC = plan.heat ? junctionOf(plan.heat.model, this.#heat) : Number.NaN
  }

  get #isProtected(): boolean {
    return this.fuse?.isBlown || this.isHot || this.breaker?.isOpen || this.ownTrip?.isOpen || false
  }

  /** What stands for the driver in the circuit. */
  get output(): DriverOutput {
    return this.#isProtected ? 'open' : this.wanted
  }

  get isOn(): boolean {
    return !this.#isProtected && (this.wanted === 'driving' || this.inCutout)
  }

  /** The driver protects itself. */
  get isAtFault(): boolean {
    return this.isHot || this.ownTrip?.isOpen === true
  }

  /** @returns whether two inputs that are equal have taken the power off. */
  read(levelOf: (pin: string) => 0 | 1): boolean {
    const { output, equal } = driverOutput(this.plan.driver, levelOf)
    this.wanted = output
    return equal
  }

  /**
   * Looks whether its inputs make it short its supply: two that change in one instant do not, whatever lasts does.
   * @returns whether this is the first time
   */
  isShortedNow(levelOf: (pin: string) => 0 | 1, timeUs: number): boolean {
    const isFirst = this.shortedAtUs === undefined && timeUs > this.#shortsSinceUs
    if (isFirst) this.shortedAtUs = this.#shortsSinceUs
    if (!driverOutput(this.plan.driver, levelOf).shorts) this.#shortsSinceUs = Number.NaN
    else if (Number.isNaN(this.#shortsSinceUs)) this.#shortsSinceUs = timeUs
    return isFirst
  }

  /** A stretch of time has passed with so many amperes at its ends: heat of the driver, melting of the fuse. */
  pass(fromAmp: number, toAmp: number, us: number): { melted: boolean; overheated: boolean } {
    this.peakAmp = Math.max(this.peakAmp, Math.abs(fromAmp), Math.abs(toAmp))
    // The mean of the square of a straight line.
    const amp = Math.sqrt((fromAmp ** 2 + fromAmp * toAmp + toAmp ** 2) / 3)
    let overheated = false
    const { heat } = this.plan
    if (heat) {
      const before = junctionOf(heat.model, this.#heat)
      this.#heat = warm(heat.model, this.#heat, this.wanted === 'driving' ? heat.watt(amp, before) : 0, us)
      const now = junctionOf(heat.model, this.#heat)
      this.hottestC = Math.max(this.hottestC, now)
      if (!this.isHot && now >= heat.limitC) overheated = true
    }
    const melted = this.fuse?.pass(amp, us) ?? false
    return { melted, overheated }
  }

  get hasCooled(): boolean {
    const { heat } = this.plan
    return heat !== undefined && junctionOf(heat.model, this.#heat) <= heat.limitC - COOLS_K
  }

  /** Heat would take the driver beyond its limit if the current stayed as it is. */
  runsHot(amp: number): boolean {
    const { heat } = this.plan
    if (!heat) return false
    const watt = heat.watt(amp, heat.limitC)
    return (
      heat.model.ambientC + watt * heat.model.stages.reduce((sum, s) => sum + s.kelvinPerWatt, 0) >
      heat.limitC
    )
  }

  /** The same for the fuse. */
  melts(amp: number): boolean {
    return this.fuse !== undefined && !this.fuse.isBlown && Number.isFinite(this.fuse.usualUs(amp))
  }
}
