/** What is to happen at times of the run, in order; of two at one time the earlier asked for comes first. */
export interface Due {
  timeUs: number
  act: () => void
}

export class EventQueue {
  readonly #list: Due[] = []

  get next(): Due | undefined {
    return this.#list.at(-1)
  }

  add(timeUs: number, act: () => void): void {
    // Kept with the next one last; most of what comes is due soon.
    let i = this.#list.length
    while (i > 0 && this.#list[i - 1]!.timeUs <= timeUs) i--
    this.#list.splice(i, 0, { timeUs, act })
  }

  take(): Due | undefined {
    return this.#list.pop()
  }
}
