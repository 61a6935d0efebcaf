/** The RC filter of a current sense: its output at any instant, exact for a current made of straight lines. */
import type { Rails } from './rails.js'

/** A filter so close to a current that does not change has reached it, A. */
const SETTLED_AMP = 1e-9

export class SenseFilter {
  readonly #rails: Rails
  readonly #source: number
  readonly #tauUs: number
  #amp = 0
  #nowUs = 0

  /** @param tauUs 0: no filter. */
  constructor(rails: Rails, source: number, tauUs: number) {
    this.#rails = rails
    this.#source = source
    this.#tauUs = tauUs
  }

  /** Filtered current, A. Bring it up to a time before anything changes then; it knows nothing of before. */
  at(timeUs: number): number {
    if (this.#tauUs <= 0) return this.#rails.sourceAmp(this.#source, timeUs)
    if (timeUs <= this.#nowUs) return this.#amp
    this.#rails.ahead(timeUs)
    const { points } = this.#rails
    // Most of the points are over: look from the last one backwards.
    let first = points.length
    while (first > 1 && points[first - 1]!.timeUs > this.#nowUs) first--
    for (let i = first; i < points.length && this.#nowUs < timeUs; i++) {
      const end = points[i]!
      const until = Math.min(timeUs, end.timeUs)
      this.#along(
        this.#rails.sourceAmp(this.#source, Math.max(this.#nowUs, points[i - 1]!.timeUs)),
        this.#rails.sourceAmp(this.#source, until),
        until - this.#nowUs,
      )
      this.#nowUs = until
    }
    return this.#amp
  }

  /**
   * Output of a first-order low-pass with time constant T behind u(t) = u0 + m·t:
   * y(t) = u(t) − m·T + (y0 − u0 + m·T)·exp(−t/T).
   */
  #along(from: number, to: number, us: number): void {
    if (from === to && Math.abs(this.#amp - from) < SETTLED_AMP) {
      this.#amp = from
      return
    }
    const lag = ((to - from) / us) * this.#tauUs
    this.#amp = to - lag + (this.#amp - from + lag) * Math.exp(-us / this.#tauUs)
  }
}
