/** Breakers, drivers' own trips, fuses, heat and supplies that switch off: what they do when too much flows. */
import { Melting } from '../electrical/melting.js'
import type { Instant } from '../electrical/rails.js'
import type { CoupledRun } from './coupled.js'
import { type DistrictStation, Opening } from './district.js'

/** Between looks at a driver or fuse that is on its way to its limit, us. */
const SOON_US = 2000

interface SupplyGuard {
  index: number
  name: string
  hiccup: Opening | undefined
  fuse: Melting | undefined
  peakAmp: number
  /** Given so far, A·us. */
  charge: number
}

export class Protection {
  readonly #run: CoupledRun
  readonly #supplies: SupplyGuard[]
  /** What has happened while time passed, to be acted on. */
  #pending = false

  constructor(run: CoupledRun) {
    this.#run = run
    this.#supplies = run.rails.supplies.map(({ plan }, index) => ({
      index,
      name: plan.name,
      hiccup:
        plan.limit === 'hiccup'
          ? new Opening({
              amp: plan.limitAmp * 0.999,
              afterUs: plan.hiccupOnUs ?? 20e3,
              closesUs: plan.hiccupOffUs ?? 500e3,
            })
          : undefined,
      fuse: plan.fuseAmp === undefined ? undefined : new Melting(plan.fuseAmp, plan.fuseKind),
      peakAmp: 0,
      charge: 0,
    }))
  }

  /** A stretch of time is over. */
  pass(from: Instant, to: Instant): void {
    const us = to.timeUs - from.timeUs
    for (const d of this.#run.districts) {
      const { melted, overheated } = d.pass(from.sourceAmp[d.source]!, to.sourceAmp[d.source]!, us)
      if (melted) this.#note('fuse', d.plan.name, 'the fuse melts', to.timeUs)
      if (overheated) {
        d.isHot = true
        this.#note('heat', d.plan.name, 'the driver shuts down: too hot', to.timeUs)
      } else if (d.isHot && d.hasCooled) {
        d.isHot = false
        this.#run.note('heat', d.plan.name, 'the driver has cooled down and drives again', to.timeUs, true)
        this.#pending = true
      }
    }
    for (const supply of this.#supplies) {
      const { index, name, fuse } = supply
      const amp = Math.max(from.supplyAmp[index]!, to.supplyAmp[index]!)
      supply.peakAmp = Math.max(supply.peakAmp, amp)
      supply.charge += (us * (from.supplyAmp[index]! + to.supplyAmp[index]!)) / 2
      if (fuse?.pass(amp, us)) this.#note('fuse', name, 'the fuse at the supply melts', to.timeUs)
    }
  }

  /** What supplies have given until a time. */
  supplies(timeUs: number): { name: string; peakAmp: number; meanAmp: number; limitAmp: number }[] {
    return this.#supplies.map(({ index, name, peakAmp, charge }) => ({
      name,
      peakAmp,
      meanAmp: charge / Math.max(1, timeUs),
      limitAmp: this.#run.rails.supplies[index]!.plan.limitAmp,
    }))
  }

  #note(kind: 'fuse' | 'heat', about: string, sentence: string, timeUs: number): void {
    this.#run.note(kind, about, sentence, timeUs, false)
    this.#pending = true
  }

  /** @returns whether something has opened or closed, so that the circuit is another one */
  check(timeUs: number): boolean {
    const { rails, districts } = this.#run
    const now = rails.at(timeUs)
    for (const d of districts) {
      const amp = Math.abs(now.sourceAmp[d.source]!)
      this.#watch(d.breaker, amp, timeUs, (open) => {
        this.#run.note(
          'breaker',
          d.plan.name,
          open ? 'the breaker opens' : 'the breaker closes',
          undefined,
          !open && d.wanted === 'driving',
        )
      })
      this.#watch(d.ownTrip, amp, timeUs, (open) => {
        const sentence = open ? 'the driver switches itself off' : 'the driver tries again'
        this.#run.note('breaker', d.plan.name, sentence, undefined, !open && d.wanted === 'driving')
      })
      this.#faultPin(d)
    }
    for (const guard of this.#supplies) {
      const supply = rails.supplies[guard.index]!
      this.#watch(guard.hiccup, now.supplyAmp[guard.index]!, timeUs, (open) => {
        supply.on = !open && !guard.fuse?.isBlown
        this.#run.note(
          'supply',
          guard.name,
          open ? 'the supply switches off' : 'the supply tries again',
          undefined,
          !open,
        )
      })
      if (guard.fuse?.isBlown) supply.on = false
    }
    const pending = this.#pending
    this.#pending = false
    return pending
  }

  #faultPin(d: DistrictStation): void {
    const { fault } = d.plan.driver
    if (fault !== undefined) this.#run.controller.setPin(fault, d.isAtFault ? 0 : 1)
  }

  #watch(o: Opening | undefined, amp: number, timeUs: number, tell: (open: boolean) => void): void {
    if (!o || o.isOpen) return
    if (amp <= o.plan.amp) {
      o.overUs = Number.POSITIVE_INFINITY
      return
    }
    if (o.overUs !== Number.POSITIVE_INFINITY) return
    o.overUs = timeUs
    this.#run.at(timeUs + o.plan.afterUs, () => {
      if (o.overUs !== timeUs) return
      o.isOpen = true
      o.overUs = Number.POSITIVE_INFINITY
      tell(true)
      this.#run.change(this.#run.nowUs)
      this.#run.at(this.#run.nowUs + o.plan.closesUs, () => {
        o.isOpen = false
        tell(false)
        this.#run.change(this.#run.nowUs)
      })
    })
  }

  /** When a current passes a limit between two instants, us; Infinity if none does. */
  crossing(a: Instant, b: Instant): number {
    let next = Number.POSITIVE_INFINITY
    const look = (o: Opening | undefined, x: number, y: number) => {
      if (!o || o.isOpen || x > o.plan.amp === y > o.plan.amp) return
      next = Math.min(next, a.timeUs + ((o.plan.amp - x) / (y - x)) * (b.timeUs - a.timeUs))
    }
    for (const { source, breaker, ownTrip } of this.#run.districts) {
      const [x, y] = [Math.abs(a.sourceAmp[source]!), Math.abs(b.sourceAmp[source]!)]
      look(breaker, x, y)
      look(ownTrip, x, y)
    }
    for (const { index, hiccup } of this.#supplies) look(hiccup, a.supplyAmp[index]!, b.supplyAmp[index]!)
    return next
  }

  /** When to look again because something is on its way to too much, us. */
  soon(nowUs: number): number {
    const { rails, districts } = this.#run
    const now = rails.at(nowUs)
    const waits =
      this.#pending ||
      districts.some((d) => {
        const amp = Math.abs(now.sourceAmp[d.source]!)
        return d.isHot || (amp > 0 && (d.runsHot(amp) || d.melts(amp)))
      }) ||
      this.#supplies.some(
        ({ index, fuse }) => fuse && !fuse.isBlown && Number.isFinite(fuse.usualUs(now.supplyAmp[index]!)),
      )
    return waits ? nowUs + SOON_US : Number.POSITIVE_INFINITY
  }
}
