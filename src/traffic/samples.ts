/** A growing list of numbers. */
export class Samples {
  count = 0
  #values = new Float64Array(64)

  push(value: number): void {
    if (this.count === this.#values.length) {
      const wider = new Float64Array(this.#values.length * 2)
      wider.set(this.#values)
      this.#values = wider
    }
    this.#values[this.count++] = value
  }

  clear(): void {
    this.count = 0
  }

  /** In the order they came. */
  values(): Float64Array {
    return this.#values.slice(0, this.count)
  }
}
