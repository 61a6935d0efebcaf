/** The railroad of a loaded design, worked out once for everyone who asks: the power stage, the proof and drawings. */
import { controllerClock } from '../controller/index.js'
import { type LoadedDesign, profileOfDesign } from '../design/index.js'
import {
  modelTrack,
  reportTrack,
  sourcesFromPower,
  type TrackInput,
  type TrackModel,
  type TrackReport,
} from '../track/index.js'

export interface Railroad {
  readonly input: TrackInput
  /** @throws DesignConflict when the railroad cannot be as described. */
  readonly model: TrackModel
  /** Voltage, shorts, faults, polarity and ringing. */
  readonly report: TrackReport
}

const known = new WeakMap<LoadedDesign, Railroad>()

/** @returns `undefined` where the design has no track or no power districts. */
export function railroadOf(loaded: LoadedDesign): Railroad | undefined {
  const { track, power, signal, rollingStock } = loaded.design
  if (!track || !power) return undefined
  const had = known.get(loaded)
  if (had) return had
  const input: TrackInput = {
    track,
    ...(rollingStock ? { rollingStock } : {}),
    sources: sourcesFromPower(power, signal, controllerClock(loaded.design.controller)),
    profile: profileOfDesign(loaded),
  }
  let model: TrackModel | undefined
  let report: TrackReport | undefined
  const railroad: Railroad = {
    input,
    get model() {
      model ??= modelTrack(input)
      return model
    },
    get report() {
      report ??= reportTrack(this.model, input)
      return report
    },
  }
  known.set(loaded, railroad)
  return railroad
}
