/**
 * The electrical state of one power district over time: a source with a limit, what the decoders draw, capacitors
 * that charge when power comes, and a short. Between events the current is a constant and decaying exponentials, so
 * that it and its filtered value at the sense are known exactly at every instant.
 */

export interface DistrictElectrics {
  /** Supply less the fixed drop of the driver, V. */
  volt: number
  /** Supply, driver, sense and half of the wiring, Ohm. */
  ohm: number
  /** What supply and driver let through at the most, A; Infinity without a limit. */
  limitAmp: number
}

export interface Capacitor {
  farad: number
  /** In series with it, Ohm. */
  ohm: number
  volt: number
}

/** From `fromUs` on the current is `steadyAmp` and the terms, which decay from there. */
export interface Segment {
  fromUs: number
  steadyAmp: number
  terms: readonly Term[]
}

interface Term {
  amp: number
  tauUs: number
}

export class DistrictCircuit {
  readonly #electrics: DistrictElectrics
  readonly capacitors: Capacitor[] = []
  #segments: Segment[] = [{ fromUs: 0, steadyAmp: 0, terms: [] }]
  #nowUs = 0
  #on = false
  #loadAmp = 0
  /** Of the short with the wires to it, beyond the source's own; Infinity without one. */
  #shortOhm = Number.POSITIVE_INFINITY
  /** Voltage at the decoders when the capacitors are charged, V. */
  #settledVolt = 0

  constructor(electrics: DistrictElectrics) {
    this.#electrics = electrics
  }

  get isOn(): boolean {
    return this.#on
  }

  get hasShort(): boolean {
    return this.#shortOhm !== Number.POSITIVE_INFINITY
  }

  /** Voltage that the decoders have when nothing charges any more, V. */
  get settledVolt(): number {
    return this.#settledVolt
  }

  /** Current when nothing charges any more, A. */
  get settledAmp(): number {
    return this.#segments.at(-1)!.steadyAmp
  }

  /** The pieces from the latest change on, in the order of time. */
  get segments(): readonly Segment[] {
    return this.#segments
  }

  /** Current at a time not before the latest change, A. */
  ampAt(timeUs: number): number {
    return currentOf(segmentAt(this.#segments, timeUs), timeUs)
  }

  /** Change something; everything before `timeUs` is settled by then. */
  set(timeUs: number, change: { on?: boolean; loadAmp?: number; shortOhm?: number }): void {
    this.#follow(timeUs)
    this.#on = change.on ?? this.#on
    this.#loadAmp = change.loadAmp ?? this.#loadAmp
    this.#shortOhm = change.shortOhm ?? this.#shortOhm
    this.#segments = this.#solve(timeUs)
  }

  /** The capacitors have charged or kept what they had until now. */
  #follow(timeUs: number): void {
    const elapsed = timeUs - this.#nowUs
    this.#nowUs = timeUs
    if (elapsed <= 0) return
    for (const c of this.capacitors) {
      if (this.#on) {
        const tauUs = this.#tauUs(c)
        if (this.#settledVolt > c.volt)
          c.volt += (this.#settledVolt - c.volt) * (1 - Math.exp(-elapsed / tauUs))
      }
      // A diode keeps a capacitor from feeding the rails; its own decoder drains it when the rails give less.
      if (c.volt > this.#settledVolt || !this.#on) c.volt = Math.max(0, c.volt - this.#drainVolt(c, elapsed))
    }
  }

  #drainVolt(c: Capacitor, us: number): number {
    const share = this.#loadAmp / Math.max(1, this.capacitors.length)
    return (share * us * 1e-6) / c.farad
  }

  #tauUs({ farad, ohm }: Capacitor): number {
    return Math.max(1, (ohm + this.#electrics.ohm) * farad * 1e6)
  }

  #solve(fromUs: number): Segment[] {
    const { volt, ohm, limitAmp } = this.#electrics
    if (!this.#on) {
      this.#settledVolt = 0
      return [{ fromUs, steadyAmp: 0, terms: [] }]
    }
    const shortSiemens = 1 / this.#shortOhm
    const rails = Math.max(0, (volt - ohm * this.#loadAmp) / (1 + ohm * shortSiemens))
    const free = this.#loadAmp + rails * shortSiemens
    if (free > limitAmp) {
      // The source gives its limit and no more: first to the short, then what is left to the decoders.
      this.#settledVolt = Math.max(0, Math.min(rails, (limitAmp - this.#loadAmp) * this.#shortOhm))
      return [{ fromUs, steadyAmp: limitAmp, terms: [] }]
    }
    this.#settledVolt = rails
    const terms = this.capacitors
      .filter((c) => c.volt < rails)
      .map((c) => ({ amp: (rails - c.volt) / (c.ohm + ohm), tauUs: this.#tauUs(c) }))
    const charging = terms.reduce((sum, t) => sum + t.amp, 0)
    if (free + charging <= limitAmp) return [{ fromUs, steadyAmp: free, terms }]
    return atLimit(fromUs, free, limitAmp - free, terms)
  }
}

/**
 * Capacitors want more than the source gives. What charges slowly goes on as it would; the quick ones share what is
 * left until their charge is in, so that all of it is delivered, only later.
 */
function atLimit(fromUs: number, free: number, room: number, terms: readonly Term[]): Segment[] {
  const slow: Term[] = []
  let left = room
  for (const term of [...terms].sort((a, b) => b.tauUs - a.tauUs)) {
    if (term.amp > left) break
    slow.push(term)
    left -= term.amp
  }
  const quick = terms.filter((t) => !slow.includes(t))
  const charge = quick.reduce((sum, t) => sum + t.amp * t.tauUs, 0)
  const tauUs = charge / quick.reduce((sum, t) => sum + t.amp, 0)
  const heldUs = Math.max(0, charge / Math.max(left, 1e-6) - tauUs)
  const later = slow.map((t) => ({ ...t, amp: t.amp * Math.exp(-heldUs / t.tauUs) }))
  return [
    { fromUs, steadyAmp: free + left, terms: slow },
    { fromUs: fromUs + heldUs, steadyAmp: free, terms: [...later, { amp: left, tauUs }] },
  ]
}

export function segmentAt(segments: readonly Segment[], timeUs: number): Segment {
  let found = segments[0]!
  for (const s of segments) if (s.fromUs <= timeUs) found = s
  return found
}

export function currentOf(segment: Segment, timeUs: number): number {
  const elapsed = Math.max(0, timeUs - segment.fromUs)
  return segment.terms.reduce((sum, t) => sum + t.amp * Math.exp(-elapsed / t.tauUs), segment.steadyAmp)
}
