/** A queue of job numbers with room for a fixed count. */
export class Ring {
  count = 0
  #jobs: Int32Array
  #head = 0
  #mask: number

  constructor(capacity: number) {
    let size = 4
    while (size < capacity) size *= 2
    this.#jobs = new Int32Array(size)
    this.#mask = size - 1
  }

  at(k: number): number {
    return this.#jobs[(this.#head + k) & this.#mask]!
  }

  push(job: number): void {
    if (this.count > this.#mask) throw new RangeError('queue overrun')
    this.#jobs[(this.#head + this.count++) & this.#mask] = job
  }

  pushFront(job: number): void {
    if (this.count > this.#mask) throw new RangeError('queue overrun')
    this.#head = (this.#head - 1) & this.#mask
    this.#jobs[this.#head] = job
    this.count++
  }

  /** Take out the k-th from the head; those before it move up. */
  takeAt(k: number): number {
    const job = this.at(k)
    for (let i = k; i > 0; i--)
      this.#jobs[(this.#head + i) & this.#mask] = this.#jobs[(this.#head + i - 1) & this.#mask]!
    this.#head = (this.#head + 1) & this.#mask
    this.count--
    return job
  }

  remove(job: number): void {
    for (let k = 0; k < this.count; k++)
      if (this.at(k) === job) {
        this.takeAt(k)
        return
      }
  }
}
