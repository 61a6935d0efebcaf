/** What a driver does with its outputs, by the levels at its inputs. */
import type { DriverPins } from '../station/setup.js'
import type { DriverOutput } from './parts.js'

/**
 * Common practice, as the truth tables of such bridges have it: without every enable input on, or asleep, both outputs are
 * open; a brake input, or two inputs at the same level, join both rails to one side, though some drivers open both outputs
 * while both inputs are low, or high, and a bridge without a logic of its own shorts its supply while both are high; otherwise the direction input, or the one of the two that is high, tells the polarity.
 * @returns `equal` where its two inputs being equal is what takes the power off, `shorts` where they make it short its supply
 */
export function driverOutput(
  pins: DriverPins,
  levelOf: (pin: string) => 0 | 1,
): { output: DriverOutput; level: 0 | 1; equal: boolean; shorts?: true } {
  const level = pins.direction === undefined ? 0 : levelOf(pins.direction)
  const on =
    pins.direction !== undefined &&
    !pins.neverOn &&
    pins.enable.every((p) => levelOf(p) === 1) &&
    (pins.enableLow ?? []).every((p) => levelOf(p) === 0)
  if (!on) return { output: 'open', level, equal: false }
  if (pins.brake.some((p) => levelOf(p) === 1)) return { output: 'braking', level, equal: false }
  if (pins.inverted === undefined || levelOf(pins.inverted) !== level)
    return { output: 'driving', level, equal: false }
  const makes = level === 0 ? pins.bothLow : pins.bothHigh
  // What is left for the rails of a supply that is shorted is nothing.
  if (makes === 'short') return { output: 'open', level, equal: true, shorts: true }
  return { output: makes === 'open' ? 'open' : 'braking', level, equal: true }
}
