/** What a run has loaded: the heaviest stretch of it, before anything shorts the rails. */
import { isShort } from '../deed.js'
import type { Trace } from '../trace.js'

/** A step line: each value holds until the next. */
export type Steps = readonly { timeUs: number; amp: number }[]

/** A run shows a clause of the planned load only where it comes as near to it; assumed, no source. */
export const NEAR_PLANNED = 0.8

/** When something first shorts the rails, or a fault of the wiring may, us; the end of the run where nothing does. */
export function undisturbedUntil({ done, run }: Trace, lastsUs: number): number {
  const acts = done.filter((d) => isShort(d.act) || d.act.fault).map((d) => d.timeUs)
  const shorts = run.events.filter((e) => e.kind === 'short').map((e) => e.timeUs)
  return [...acts, ...shorts].reduce((a, b) => Math.min(a, b), lastsUs)
}

/** The sum of several step lines. */
export function sumOf(lines: readonly Steps[]): { timeUs: number; amp: number }[] {
  const changes = lines.flatMap((line) =>
    line.map(({ timeUs, amp }, i) => ({ timeUs, by: Math.abs(amp) - Math.abs(line[i - 1]?.amp ?? 0) })),
  )
  let amp = 0
  return changes
    .sort((a, b) => a.timeUs - b.timeUs)
    .map(({ timeUs, by }) => {
      amp += by
      return { timeUs, amp: Math.max(0, amp) }
    })
}

/**
 * Highest mean (`power` 1) or root mean square (2) over any stretch of a length, A.
 * @returns undefined where the run until `untilUs` is shorter than that
 */
export function heaviest(
  line: Steps,
  untilUs: number,
  stretchUs: number,
  power: 1 | 2 = 1,
): number | undefined {
  if (!(untilUs >= stretchUs)) return undefined
  const times = [0]
  const sums = [0]
  let amp = 0
  const add = (us: number) => {
    times.push(us)
    sums.push(sums.at(-1)! + (us - times.at(-2)!) * amp ** power)
  }
  for (const step of line) {
    if (step.timeUs >= untilUs) break
    if (step.timeUs > times.at(-1)!) add(step.timeUs)
    amp = Math.abs(step.amp)
  }
  add(untilUs)
  // The mean is highest where one end of the stretch is at a change; both ends go forward only.
  let most = 0
  for (const end of [0, stretchUs]) {
    let k = 0
    const until = (us: number) => {
      while (k + 2 < times.length && times[k + 1]! <= us) k++
      const [from, to] = [times[k]!, times[k + 1]!]
      return to > from ? sums[k]! + ((us - from) / (to - from)) * (sums[k + 1]! - sums[k]!) : sums[k + 1]!
    }
    for (const [i, us] of times.entries()) {
      const other = us + stretchUs - 2 * end
      if (other < 0 || other > untilUs) continue
      most = Math.max(most, Math.abs(until(other) - sums[i]!))
    }
  }
  return (most / stretchUs) ** (1 / power)
}
