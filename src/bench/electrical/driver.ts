/** What a driver does with its outputs, by the levels at its inputs. */
import type { DriverPins } from '../station/setup.js'
import type { DriverOutput } from './parts.js'

/**
 * Common practice, as the truth tables of such bridges have it: without every enable input on, or asleep, both outputs are
 * open; a brake input, or two inputs at the same level, join both rails to one side; otherwise the direction input, or
 * the one of the two that is high, tells the polarity.
 */
export function driverOutput(
  pins: DriverPins,
  levelOf: (pin: string) => 0 | 1,
): { output: DriverOutput; level: 0 | 1 } {
  const level = pins.direction === undefined ? 0 : levelOf(pins.direction)
  const on =
    pins.direction !== undefined &&
    !pins.neverOn &&
    pins.enable.every((p) => levelOf(p) === 1) &&
    (pins.enableLow ?? []).every((p) => levelOf(p) === 0)
  if (!on) return { output: 'open', level }
  if (pins.brake.some((p) => levelOf(p) === 1)) return { output: 'braking', level }
  if (pins.inverted !== undefined && levelOf(pins.inverted) === level) return { output: 'braking', level }
  return { output: 'driving', level }
}
