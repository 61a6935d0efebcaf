/**
 * Long calculations in steps: a generator that says now and then how far it is, so that whoever runs it can show
 * that, let others in, and stop.
 */

export interface Step {
  /** What is being done: `worst arrangement of trains`. */
  what: string
  /** How much of that is done, 0…1. */
  share: number
}

export type Steps<T> = Generator<Step, T, void>

/** Run to the end without a pause. */
export function finish<T>(steps: Steps<T>): T {
  for (;;) {
    const next = steps.next()
    if (next.done) return next.value
  }
}
