/** Runs a long calculation of a domain room so that it shows how far it is and ends at Ctrl-C. */
import type { Progressive } from '../track/index.js'
import type { Io } from './command.js'

/** Between two looks at the clock and for Ctrl-C, ms. */
const EVERY_MS = 40

/** @returns `undefined` when it was interrupted. */
export async function stepwise<T>(steps: Progressive<T>, io: Io): Promise<T | undefined> {
  let looked = performance.now()
  let said = ''
  for (;;) {
    const next = steps.next()
    if (next.done) return next.value
    const now = performance.now()
    const { what, share } = next.value
    if (what === said && now - looked < EVERY_MS) continue
    io.progress(`${what} …${share > 0 ? ` ${Math.floor(100 * share)} %` : ''}`)
    said = what
    if (now - looked < EVERY_MS) continue
    await new Promise((resolve) => setImmediate(resolve))
    if (io.signal.aborted) return undefined
    looked = performance.now()
  }
}
