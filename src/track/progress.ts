/**
 * Long calculations in steps: a generator that yields its progress, so that whoever runs it can show
 * that, let others in, and stop.
 */

export interface Progress {
  /** What is being done: `worst arrangement of trains`. */
  what: string
  /** How much of that is done, 0…1. */
  share: number
}

export type Progressive<T> = Generator<Progress, T, void>

/** Run to the end without a pause. */
export function runToEnd<T>(steps: Progressive<T>): T {
  for (;;) {
    const next = steps.next()
    if (next.done) return next.value
  }
}
