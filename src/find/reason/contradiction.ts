/** When readings that a fault does not explain are more than slips. */
import { INSTRUMENTS, WRONG_READING } from '../data/instruments.data.js'
import type { Reading } from '../reading.js'

/** So unlikely a number of wrong readings is no accident. */
const NO_ACCIDENT = 1e-4

/** Whether so many or more wrong readings among all are no accident any more. */
export function isNoAccident(wrong: number, all: number): boolean {
  if (wrong === 0) return false
  let term = (1 - WRONG_READING) ** all
  let less = 0
  for (let k = 0; k < wrong; k++) {
    less += term
    term *= ((all - k) / (k + 1)) * (WRONG_READING / (1 - WRONG_READING))
  }
  return 1 - less < NO_ACCIDENT
}

/** Whether two readings of one place with one instrument agree: then neither is a slip. */
export function isConfirmed(readings: readonly Reading[]): boolean {
  return readings.some((a, i) =>
    readings.some((b, j) => {
      if (j <= i || a.spot.key !== b.spot.key || a.instrument !== b.instrument) return false
      if (a.spot.kind.words) return a.value === b.value
      const { share, fixed } = a.error ?? INSTRUMENTS[a.instrument]
      const mean = (Number(a.value) + Number(b.value)) / 2
      return Math.abs(Number(a.value) - Number(b.value)) <= 2 * (share * Math.abs(mean) + fixed)
    }),
  )
}

export function isRepeated(readings: readonly Reading[], { spot }: Reading): boolean {
  return readings.filter((r) => r.spot.key === spot.key).length > 1
}
