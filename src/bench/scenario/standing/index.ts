/** The scenarios that every design gives rise to, as the same data that a scenario file holds. */
import type { BenchSetup } from '../../station/setup.js'
import type { PlayOptions } from '../play.js'
import { hang, heaviestTraffic, quietMinute, restart, startAtOnce } from './driving.js'
import { Frame, type Playable } from './frame.js'
import { programme } from './service.js'
import {
  commandsDuringShort,
  shortIn,
  shortOnService,
  shortWhileHung,
  shortWhileProgramming,
} from './shorts.js'
import { stopsInPlaces } from './stops.js'

export { type Playable, playable } from './frame.js'

/** In the order in which they are worth knowing. */
export function standingScenarios(setup: BenchSetup, options: PlayOptions): Playable[] {
  const f = new Frame(setup, options)
  return [
    ...f.operations.map((d) => shortIn(f, d, 'weakest')),
    ...f.operations.map((d) => shortIn(f, d, 'strongest')),
    ...f.service.map((d) => shortOnService(f, d)),
    ...shortWhileProgramming(f),
    ...shortWhileHung(f),
    commandsDuringShort(f),
    startAtOnce(f),
    heaviestTraffic(f),
    restart(f),
    hang(f, 'hang'),
    hang(f, 'main loop'),
    ...stopsInPlaces(f),
    ...f.service.map((d) => programme(f, d)),
    quietMinute(f),
  ]
}
