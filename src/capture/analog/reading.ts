/** What the samples of an analog record showed, beside its edges. */

/** Which voltage counts as zero. */
export type Reference = 'zero' | 'middle'

/** Passages in one direction through the region from -4 to +4 V. */
export interface PassageReading {
  /** Passages with at least two samples inside the region: their slope is measured. */
  edges: number
  /** V/us. */
  slowest: number
  slowestAtUs: number
  mean: number
  /** Standard deviation of the slopes, V/us. */
  deviation: number
}

export interface SlopeReading {
  rising: PassageReading
  falling: PassageReading
  /** Passages with fewer samples inside: only a lower bound of their slope is known. */
  coarse: number
  /** The lowest of those bounds, V/us; Infinity when there are none. */
  coarseBound: number
  coarseAtUs: number
}

/** Courses that are not monotonic around a crossing of zero. */
export interface CrossingReading {
  /** Crossings that were looked at. */
  edges: number
  /** How far from zero the signal had been before it came back, of all reversals that touch the band, V. */
  worstVolt: number
  worstAtUs: number
  /** Reversals that had left the band of 2 V and entered it again. */
  returns: number
  /** A signal that stays nearer than this to the border of the band is not told from noise, V. */
  guardVolt: number
}

export interface AnalogReading {
  samples: number
  /** Spacing of the samples, us. */
  sampleUs: number
  /** Smallest step between two values, V. */
  stepVolt: number
  /** Noise on the plateaus, V rms. */
  noiseVolt: number
  /** Plateaus, averaged, V. */
  highVolt: number
  lowVolt: number
  /** How many half-bits the plateaus are the average of, and the deviation between them, V. */
  plateaus: number
  plateauDeviationVolt: number
  /** The level at which edges are timed: stated, zero, or the middle between the plateaus, V. */
  middleVolt: number
  /** The level changes when the signal has gone beyond these, V; as they were at the end of the record. */
  upVolt: number
  downVolt: number
  /** Extremes of all samples while there was a signal, V, and when. */
  maxVolt: number
  minVolt: number
  peakAtUs: number
  /** Over the time that the signal was not off, V. */
  rmsVolt: number
  /** The lowest 10 us on the plateau of any half-bit, V from zero, how many samples it has, and when. */
  weakestVolt: number
  weakestSamples: number
  weakestAtUs: number
  /** Both polarities appear: a differential record, or two rails subtracted. */
  bipolar: boolean
  /** Two channels were subtracted. */
  subtracted: boolean
  /** Zero of the record, or the middle between the plateaus where one polarity only appears. */
  reference: Reference
  /** Absent when the swing does not reach over the judged region. */
  slope?: SlopeReading
  crossing: CrossingReading
}
