/** The RC filter of a current sense: its output at any instant, exact for the pieces that a district's current has. */
import type { DistrictCircuit, Segment } from './circuit.js'

export class SenseFilter {
  readonly #circuit: DistrictCircuit
  readonly #tauUs: number
  #amp = 0
  #nowUs = 0

  /** @param tauUs 0: no filter. */
  constructor(circuit: DistrictCircuit, tauUs: number) {
    this.#circuit = circuit
    this.#tauUs = tauUs
  }

  /** Bring it up to a time; call it before the circuit changes. */
  advance(timeUs: number): void {
    this.#amp = this.at(timeUs)
    this.#nowUs = Math.max(this.#nowUs, timeUs)
  }

  /** Filtered current, A. */
  at(timeUs: number): number {
    const { segments } = this.#circuit
    if (this.#tauUs <= 0) return this.#circuit.ampAt(timeUs)
    let [amp, now] = [this.#amp, this.#nowUs]
    for (let i = 0; i < segments.length && now < timeUs; i++) {
      const until = Math.min(timeUs, segments[i + 1]?.fromUs ?? timeUs)
      if (until <= now) continue
      amp = through(segments[i]!, amp, now, until, this.#tauUs)
      now = until
    }
    return amp
  }
}

/**
 * Output of a first-order low-pass with time constant T after a constant S and exponentials A·exp(−t/τ):
 * y(t) = S + (y0 − S)·exp(−t/T) + Σ A·τ/(τ − T)·(exp(−t/τ) − exp(−t/T)), its limit A·t/T·exp(−t/T) where τ = T.
 */
function through(
  { fromUs, steadyAmp, terms }: Segment,
  before: number,
  from: number,
  to: number,
  tauUs: number,
): number {
  const t = to - from
  const own = Math.exp(-t / tauUs)
  let amp = steadyAmp + (before - steadyAmp) * own
  for (const term of terms) {
    const start = term.amp * Math.exp(-Math.max(0, from - fromUs) / term.tauUs)
    const gap = term.tauUs - tauUs
    amp +=
      Math.abs(gap) < 1e-6 * tauUs
        ? (start * t * own) / tauUs
        : (start * term.tauUs * (Math.exp(-t / term.tauUs) - own)) / gap
  }
  return amp
}
