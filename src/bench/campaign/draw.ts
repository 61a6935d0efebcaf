/** One run of a campaign: a scenario whose times, places and resistances are drawn, on a station drawn within its tolerances. */
import { seededRandom } from '../../corner/index.js'
import { isCommand, isShort } from '../scenario/deed.js'
import type { ActDesign, ScenarioDesign } from '../scenario/design.js'

/** How far a station may be from the nominal one, shares. */
export interface DrawRanges {
  supply: number
  sense: number
  clock: number
  /** Of whatever shorts the rails, at the most, Ohm. */
  contactOhm: number
}

/** What happens may be so much later, us: a few packets, and every phase of the converter. */
const LATER_US = 250e3
/** A command may be so much later than in the scenario, us. */
const COMMAND_LATER_US = 15e3
/** A short may have so little of the design's contact resistance. */
const LEAST_CONTACT = 0.1

/**
 * The scenario of a run. The same seed and number give the same, however the runs are shared out.
 * @param run number of the run in its campaign, from 0.
 */
export function drawScenario(
  base: ScenarioDesign,
  seed: number,
  run: number,
  { supply, sense, clock, contactOhm }: DrawRanges,
): ScenarioDesign {
  const random = seededRandom((seed ^ Math.imul(run + 1, 0x9e3779b1)) >>> 0)
  const around = (share: number) => share * (2 * random.uniform() - 1)
  const drawn = { supply: around(supply), sense: around(sense), clock: around(clock) }
  const laterUs = random.uniform() * LATER_US
  // What belongs together stays together: all from the first event on moves by the same time.
  const first = Math.min(
    ...base.acts.filter((a) => !isCommand(a)).map((a) => a.at ?? Number.POSITIVE_INFINITY),
  )
  const acts = base.acts.map((act): ActDesign => {
    const moved = { ...act }
    if (act.at !== undefined)
      moved.at = act.at >= first ? act.at + laterUs : act.at + random.uniform() * COMMAND_LATER_US
    if (isShort(act)) {
      const most = act.short?.resistance ?? act.derail?.resistance ?? contactOhm
      const resistance = most * (LEAST_CONTACT + (1 - LEAST_CONTACT) * random.uniform())
      if (act.short) {
        const { at } = act.short
        const end = random.uniform() < 0.5 ? ('weakest' as const) : ('strongest' as const)
        moved.short = { ...act.short, resistance, at: at.district === undefined ? at : { ...at, end } }
      }
      if (act.derail) moved.derail = { ...act.derail, resistance }
    }
    return moved
  })
  return {
    ...base,
    seed: Math.floor(random.uniform() * 4294967296),
    lasts: base.lasts + LATER_US,
    drawn,
    acts,
  }
}
