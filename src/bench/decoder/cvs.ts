/** The configuration variables of a multi-function decoder: memory that outlasts a loss of power. */

/** CV29 bits (S-9.2.2:2012). */
export const CV29 = { reversed: 0x01, steps28: 0x02, analog: 0x04, table: 0x10, longAddress: 0x20 } as const

/** Values of a decoder as it comes (S-9.2.2:2012: address 3; 28 or 128 steps, analog direct current allowed). */
const DEFAULTS: readonly [cv: number, value: number][] = [
  [1, 3],
  [12, 1],
  [17, 192],
  [29, CV29.steps28 | CV29.analog],
]
/** A decoder tells its maker and version; both are read-only (S-9.2.2:2012). */
const READ_ONLY: ReadonlySet<number> = new Set([7, 8])
const SPEED_TABLE = 67
/** Trims forward and in reverse: the drive is multiplied by value ÷ 128, and not at all by 0 (S-9.2.2:2012). */
const TRIM = { forward: 66, reverse: 95, one: 128 } as const
/** Seconds per speed step of CV3 and CV4: value × 0.896 ÷ steps in use (S-9.2.2:2012). */
const MOMENTUM_S = 0.896

export type SpeedSteps = 14 | 28 | 126

export class Cvs {
  readonly #values = new Map<number, number>(DEFAULTS)
  readonly #factory: ReadonlyMap<number, number>
  #pendingCv17: number | undefined

  /** @param values what is set before the decoder comes on the track; also what a factory reset brings back. */
  constructor(values: Readonly<Record<number, number>> = {}) {
    for (const [cv, value] of Object.entries(values)) this.#values.set(Number(cv), value & 255)
    this.#factory = new Map(this.#values)
  }

  get(cv: number): number {
    return this.#values.get(cv) ?? 0
  }

  /** @returns whether it is stored now; CV17 takes effect once CV18 is written (S-9.2.1:2012). */
  write(cv: number, value: number, inService: boolean): boolean {
    if (cv === 8 && value === 8 && inService) {
      this.#values.clear()
      for (const [key, was] of this.#factory) this.#values.set(key, was)
      return true
    }
    if (READ_ONLY.has(cv) || (this.isLocked && cv !== 15)) return false
    if (cv === 17) {
      this.#pendingCv17 = value
      return true
    }
    if (cv === 18 && this.#pendingCv17 !== undefined) {
      this.#values.set(17, this.#pendingCv17)
      this.#pendingCv17 = undefined
    }
    this.#values.set(cv, value)
    if (cv === 1) {
      // S-9.2.3:2012 E: writing CV1 clears CV29 bit 5 and CV19.
      this.#values.set(29, this.get(29) & ~CV29.longAddress)
      this.#values.set(19, 0)
    }
    return true
  }

  /** What a verify compares with; a CV17 that waits for its CV18 reads as written. */
  reads(cv: number): number {
    return cv === 17 && this.#pendingCv17 !== undefined ? this.#pendingCv17 : this.get(cv)
  }

  get isLong(): boolean {
    return (this.get(29) & CV29.longAddress) !== 0
  }

  get address(): number {
    // A = (CV17 − 192)·256 + CV18.
    return this.isLong ? ((this.get(17) - 192) << 8) | this.get(18) : this.get(1) & 127
  }

  /** Consist address; 0: in none. */
  get consist(): number {
    return this.get(19) & 127
  }

  get reversedInConsist(): boolean {
    return (this.get(19) & 128) !== 0
  }

  get reversed(): boolean {
    return (this.get(29) & CV29.reversed) !== 0
  }

  /** A baseline speed packet is read in 28 steps; else in 14 with the headlight in its low bit. */
  get reads28Steps(): boolean {
    return (this.get(29) & CV29.steps28) !== 0
  }

  /** Written CVs are refused while CV15 and CV16 differ (S-9.2.2:2012). */
  get isLocked(): boolean {
    return this.get(15) !== this.get(16)
  }

  /** It may take direct current as analog power: CV29 bit 2, and CV12 bit 0. */
  get takesAnalog(): boolean {
    return (this.get(29) & CV29.analog) !== 0 && (this.get(12) & 1) !== 0
  }

  /** Whether a function obeys the consist address: CV21 for F1 to F8, CV22 for the headlight and F9 to F12. */
  functionInConsist(f: number, forward: boolean): boolean {
    if (f === 0) return (this.get(22) & (forward ? 1 : 2)) !== 0
    if (f <= 8) return (this.get(21) & (1 << (f - 1))) !== 0
    return f <= 12 && (this.get(22) & (1 << (f - 7))) !== 0
  }

  /** Seconds from one speed step to the next, speeding up or slowing down. */
  secondsPerStep(speedingUp: boolean, steps: SpeedSteps): number {
    const [rate, adjust] = speedingUp ? [this.get(3), this.get(23)] : [this.get(4), this.get(24)]
    // CV23 and CV24: bits 0 to 6 the amount, bit 7 set subtracts (S-9.2.2:2012).
    const amount = adjust & 128 ? -(adjust & 127) : adjust
    return (Math.max(0, rate + amount) * MOMENTUM_S) / (steps === 126 ? 128 : steps)
  }

  /** Share of the motor's voltage at a speed and in a direction as its own address has it, 0 to 1. */
  motorShare(speed: number, forward = true): number {
    if (speed <= 0) return 0
    const trim = this.get(forward ? TRIM.forward : TRIM.reverse)
    return Math.min(1, this.#curve(speed) * (trim === 0 ? 1 : trim / TRIM.one))
  }

  /** Between steps by straight lines (from memory). */
  #curve(speed: number): number {
    if ((this.get(29) & CV29.table) !== 0) {
      const at = 1 + speed * 27 - 1
      const low = Math.min(27, Math.floor(at))
      const value = (i: number) => this.get(SPEED_TABLE + Math.min(27, i))
      return (value(low) + (at - low) * (value(low + 1) - value(low))) / 255
    }
    const start = this.get(2) / 255
    const full = this.get(5) > 1 ? this.get(5) / 255 : 1
    const mid = this.get(6) > 1 ? this.get(6) / 255 : (start + full) / 2
    return speed < 0.5 ? start + 2 * speed * (mid - start) : mid + (2 * speed - 1) * (full - mid)
  }
}
