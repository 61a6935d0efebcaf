/**
 * Channels in parallel share by their resistances, not equally: the strongest carries most. Worst case: one
 * channel has typical figures and all others the greatest ones of the sheet. All are taken at one temperature:
 * a MOSFET's rise of resistance evens the shares out a little, so the result is on the safe side; bipolar
 * channels do the opposite when they heat unequally, so keep them on one die.
 */
import { type DriverModel, dropVolt, type Which } from './driver.js'

export interface Sharing {
  /** Current of each channel, A; the first is the strongest. */
  amps: number[]
  /** Voltage lost in all of them, V. */
  dropVolt: number
  /** Heat of each channel by conduction, W. */
  watts: number[]
}

/**
 * @param part losses of the weaker channels, or of the only one
 * @param channels how many work together, at least 1
 * @returns `undefined` when the driver's losses are not known
 */
export function shareCurrent(
  driver: DriverModel,
  channels: number,
  totalAmp: number,
  junctionC = 25,
  part: Which = 'most',
): Sharing | undefined {
  if (channels <= 1) {
    const drop = dropVolt(driver, totalAmp, junctionC, part)
    return drop === undefined ? undefined : { amps: [totalAmp], dropVolt: drop, watts: [drop * totalAmp] }
  }
  // The strong channel's current x balances the drops: dropTypical(x) = dropMost((total - x) / (channels - 1)).
  let low = 0
  let high = totalAmp
  for (let i = 0; i < 60; i++) {
    const x = (low + high) / 2
    const strong = dropVolt(driver, x, junctionC, 'typical')
    const weak = dropVolt(driver, (totalAmp - x) / (channels - 1), junctionC, part)
    if (strong === undefined || weak === undefined) return undefined
    if (strong < weak) low = x
    else high = x
  }
  const strong = (low + high) / 2
  const weak = (totalAmp - strong) / (channels - 1)
  const drop = dropVolt(driver, strong, junctionC, 'typical')!
  const amps = [strong, ...Array.from({ length: channels - 1 }, () => weak)]
  return { amps, dropVolt: drop, watts: amps.map((a) => a * drop) }
}

/** What the strongest channel carries of a current, A; all of it where the driver's losses are not known. */
export function strongestAmp(driver: DriverModel, channels: number, totalAmp: number): number {
  return shareCurrent(driver, channels, totalAmp)?.amps[0] ?? totalAmp
}
