/** How the firmware tells an acknowledgement: the design's own rule as counts and samples. */
import type { DistrictStage } from '../../power/index.js'
import type { ConverterPlan } from './converter.js'
import type { Refuse } from './plan.js'
import type { SensePlan } from './sensing.js'

export interface DetectorPlan {
  thresholdAmp: number
  /** In counts times average times smoothing. */
  rise: number
  samples: number
  of: number
  average: number
  /** The exponential average takes 1/2^shift of each sample. */
  shift: number
  sampleUs: number
  /** Readings of the sense per second, as the converter makes them and as the design has them. */
  rate: number
  wantedRate: number
}

/** Well below the 60 mA of S-9.2.3:2012 D, well above the noise of a decoder: common practice, no source. */
const DEFAULT = { threshold: 0.04, forUs: 3100, smoothing: 0.125 }
/** The smoothed value is held in 16 bits, with those of the converter. */
const MOST_VALUE = 65_536
const MOST_HISTORY = 32
const MOST_SAMPLES = 250

export function detectorPlan(
  { name, district }: DistrictStage,
  sense: SensePlan,
  converter: ConverterPlan,
  refuse: Refuse,
): DetectorPlan {
  const path = ['power', 'districts', name, 'acknowledgement']
  const own = district.sense!.rate
  const { rate } = converter.pace(own)
  const a = district.acknowledgement ?? {
    threshold: DEFAULT.threshold,
    samples: Math.round((DEFAULT.forUs * own) / 1e6),
    of: undefined,
    rate: undefined,
    average: 1,
    smoothing: DEFAULT.smoothing,
  }
  if (a.threshold === undefined)
    refuse(path, 'no threshold; expected one, such as the one that the report of the power stage proposes')
  const shift = Math.round(-Math.log2(a.smoothing))
  if (Math.abs(2 ** -shift - a.smoothing) > 0.02 * a.smoothing)
    refuse(
      [...path, 'smoothing'],
      `${a.smoothing}; expected 1, 0.5, 0.25, 0.125 or the like, which are shifts`,
    )
  const scale = MOST_VALUE / 2 ** district.sense!.bits
  if (2 ** shift * a.average > scale)
    refuse(
      path,
      `average ${a.average} and smoothing ${a.smoothing} together do not fit in 16 bits; expected ${scale} times at most`,
    )
  const decisions = own / a.average
  if (a.rate !== undefined && Math.abs(a.rate / decisions - 1) > 0.05)
    refuse(
      [...path, 'rate'],
      `${a.rate} decisions a second; the sense gives ${Math.round(decisions)}, expected that`,
    )
  // The converter makes more readings than were asked for: as many as last equally long.
  const samples = Math.max(1, Math.round((a.samples * rate) / own))
  const of = Math.max(samples, Math.round(((a.of ?? a.samples) * rate) / own))
  if (of > samples && of > MOST_HISTORY)
    refuse([...path, 'of'], `${of}; expected ${MOST_HISTORY} at most where they need not be in a row`)
  if (samples > MOST_SAMPLES) refuse([...path, 'samples'], `${samples}; expected ${MOST_SAMPLES} at most`)
  return {
    thresholdAmp: a.threshold,
    rise: Math.max(1, Math.round((a.threshold / sense.ampPerCount) * a.average * 2 ** shift)),
    samples,
    of,
    average: a.average,
    shift,
    sampleUs: (1e6 / rate) * a.average,
    rate,
    wantedRate: own,
  }
}
