/** Track voltage against load, at the output of the station, where the standards measure it. */

import { dropVolt } from './driver.js'
import type { DistrictLoad } from './load.js'
import { shareCurrent } from './share.js'
import { chainOf, type DistrictStage } from './stage.js'

export interface VoltagePoint {
  amp: number
  /** Nominal supply, typical driver figures at 25 °C, V. */
  typicalVolt: number
  /** Lowest supply, greatest driver figures, hot: the weaker polarity, V. */
  weakVolt: number
  /** The other polarity at the same time, with typical figures in its switches, V. */
  otherVolt: number
}

export interface TrackVoltage {
  curve: VoltagePoint[]
  /** Supply at the top of its tolerance, no load, V. */
  highestVolt: number
  /** Under the worst planned load; absent when that is not known. */
  atWorst?: VoltagePoint
  atRunning?: VoltagePoint
  /** RMS without load at nominal supply: of a symmetric square wave, its peak, V. */
  rmsVolt: number
}

/**
 * Peak voltage V = V_supply − I · (R_supply + R_sense) − drop(I, T). Of the two polarities each takes one high and
 * one low switch, so with one leg at the data sheet's worst and the other typical they differ by the spread.
 */
export function voltageAt(stage: DistrictStage, amp: number, junctionC: number): VoltagePoint | undefined {
  const { model, supply, district } = stage
  const n = stage.channels.length
  const typical = dropVolt(model, amp / n, 25, 'typical')
  const other = dropVolt(model, amp / n, junctionC, 'typical')
  const weak =
    n === 1 ? dropVolt(model, amp, junctionC, 'most') : shareCurrent(model, n, amp, junctionC)?.dropVolt
  if (typical === undefined || weak === undefined || other === undefined) return undefined
  const senseVolt = (chainOf(stage)?.seriesOhm ?? 0) * amp
  // A shunt in one leg stands in the way of one polarity only.
  const otherSense = district.sense?.sees === 'one' ? 0 : senseVolt
  const low = supply.voltage * (1 - supply.tolerance) - supply.resistance * amp
  return {
    amp,
    typicalVolt: Math.max(0, supply.voltage - supply.resistance * amp - senseVolt - typical),
    weakVolt: Math.max(0, low - senseVolt - weak),
    otherVolt: Math.max(0, low - otherSense - other),
  }
}

/** The curve to a quarter beyond the greatest load, and the points that matter. */
export function trackVoltage(
  stage: DistrictStage,
  load: DistrictLoad | undefined,
  junctionC: number,
): TrackVoltage {
  const top = 1.25 * Math.max(stage.district.trip?.current ?? 0, load?.worstAmp ?? 0, 0.5)
  const curve: VoltagePoint[] = []
  for (let i = 0; i <= 50; i++) {
    const point = voltageAt(stage, (top * i) / 50, junctionC)
    if (point) curve.push(point)
  }
  const result: TrackVoltage = {
    curve,
    highestVolt: stage.supply.voltage * (1 + stage.supply.tolerance),
    rmsVolt: stage.supply.voltage,
  }
  const worst = load && voltageAt(stage, load.worstAmp, junctionC)
  const running = load && voltageAt(stage, load.runningAmp, junctionC)
  if (worst) result.atWorst = worst
  if (running) result.atRunning = running
  return result
}
