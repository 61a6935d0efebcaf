/** Track voltage against load, at the output of the station, where the standards measure it. */

import { dropVolt } from './driver.js'
import type { DistrictLoad } from './load.js'
import { shareCurrent } from './share.js'
import { type Beside, chainOf, type DistrictStage, NOTHING_BESIDE } from './stage.js'

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
 * Peak voltage V = V_supply − I · (R_supply + R_sense) − drop(I, T), each with the current that flows through it. Of the
 * two polarities each takes one high and one low switch, so with one leg at the data sheet's worst and the other
 * typical they differ by the spread.
 */
export function voltageAt(
  stage: DistrictStage,
  amp: number,
  junctionC: number,
  beside: Beside = NOTHING_BESIDE,
): VoltagePoint | undefined {
  const { model, supply, district } = stage
  const n = stage.channels.length
  const through = amp + beside.channelAmp
  const typical = dropVolt(model, through / n, 25, 'typical')
  const other = dropVolt(model, through / n, junctionC, 'typical')
  const weak =
    n === 1
      ? dropVolt(model, through, junctionC, 'most')
      : shareCurrent(model, n, through, junctionC)?.dropVolt
  if (typical === undefined || weak === undefined || other === undefined) return undefined
  const senseVolt = (chainOf(stage)?.seriesOhm ?? 0) * through
  // A shunt in one leg stands in the way of one polarity only.
  const otherSense = district.sense?.sees === 'one' ? 0 : senseVolt
  const sag = supply.resistance * (through + beside.supplyAmp)
  const low = supply.voltage * (1 - supply.tolerance) - sag
  return {
    amp,
    typicalVolt: Math.max(0, supply.voltage - sag - senseVolt - typical),
    weakVolt: Math.max(0, low - senseVolt - weak),
    otherVolt: Math.max(0, low - otherSense - other),
  }
}

/** The curve to a quarter beyond the greatest load, and the points that matter, with the rest running beside it. */
export function trackVoltage(
  stage: DistrictStage,
  load: DistrictLoad | undefined,
  junctionC: number,
  beside: Beside = NOTHING_BESIDE,
): TrackVoltage {
  const top = 1.25 * Math.max(stage.district.trip?.current ?? 0, load?.worstAmp ?? 0, 0.5)
  const curve: VoltagePoint[] = []
  for (let i = 0; i <= 50; i++) {
    const point = voltageAt(stage, (top * i) / 50, junctionC, beside)
    if (point) curve.push(point)
  }
  const result: TrackVoltage = {
    curve,
    highestVolt: stage.supply.voltage * (1 + stage.supply.tolerance),
    rmsVolt: stage.supply.voltage,
  }
  const worst = load && voltageAt(stage, load.worstAmp, junctionC, beside)
  const running = load && voltageAt(stage, load.runningAmp, junctionC, beside)
  if (worst) result.atWorst = worst
  if (running) result.atRunning = running
  return result
}
