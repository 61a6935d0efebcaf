/** The shortest scenario that still fails as a longer one did. */
import { checkScenario } from '../scenario/check.js'
import type { ScenarioDesign } from '../scenario/design.js'
import type { BenchSetup } from '../station/setup.js'

/** Times are not looked at finer, us. */
const GRAIN_US = 10e3
/** Runs at the most: a campaign may have many failures. */
const MOST_TRIES = 80

/** How many runs it has taken so far. */
export type Shrinking = Generator<number, ScenarioDesign>

/**
 * Leaves out acts, tolerances and time as long as the scenario still fails in the same way. What is left out next
 * depends on nothing but the scenario, so that the same failure shrinks to the same file.
 * @param fails plays a scenario; whether it fails in the same way.
 */
export function* shrink(
  scenario: ScenarioDesign,
  setup: BenchSetup,
  fails: (candidate: ScenarioDesign) => boolean,
): Shrinking {
  let best = scenario
  let tries = 0
  function* attempt(candidate: ScenarioDesign): Generator<number, boolean> {
    if (tries >= MOST_TRIES || checkScenario(candidate, setup).length > 0) return false
    tries++
    yield tries
    if (!fails(candidate)) return false
    best = candidate
    return true
  }
  for (let i = best.expect.length - 1; i >= 0 && best.expect.length > 1; i--)
    yield* attempt({ ...best, expect: best.expect.filter((_, k) => k !== i) })
  // Many acts at once first, then one by one.
  for (let size = Math.ceil(best.acts.length / 2); size >= 1; size = size === 1 ? 0 : Math.ceil(size / 2))
    for (let i = best.acts.length - size; i >= 0; i -= size)
      if (best.acts.length > size)
        yield* attempt({ ...best, acts: best.acts.filter((_, k) => k < i || k >= i + size) })
  const { drawn, ...nominal } = best
  if (drawn && !(yield* attempt(nominal)))
    for (const key of ['supply', 'sense', 'clock'] as const) {
      const { [key]: left, ...others } = best.drawn ?? {}
      if (left !== undefined) yield* attempt({ ...best, drawn: others })
    }
  let [low, high] = [0, Math.ceil(best.lasts / GRAIN_US)]
  while (high - low > 1) {
    const middle = Math.floor((low + high) / 2)
    if (yield* attempt({ ...best, lasts: middle * GRAIN_US })) high = middle
    else low = middle
  }
  return best
}
