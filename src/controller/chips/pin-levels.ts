/** Levels of a controller's pins: in reset, and as outputs and inputs at a supply voltage. */
import type { FactStatus } from '../../standard/index.js'
import { pinName } from './chip.js'
import { CHIPS, type ChipId } from './chips.js'
import { PIN_LEVELS, RESET_PINS, type ResetState, type Threshold } from './pin-levels.data.js'

export interface PinInReset {
  state: ResetState
  /** Least and greatest resistance of the pull-up or pull-down, Ohm; only where there is one. */
  pullOhm?: { low: number; high: number }
  says?: string
  status: FactStatus
  source: string
}

/**
 * What a pin does in reset, while the controller is programmed, and until firmware sets it up.
 * @returns undefined for a pin that the chip has not.
 */
export function pinStateInReset(chip: ChipId, pin: string): PinInReset | undefined {
  const name = pinName(pin)
  if (!CHIPS[chip].pins.includes(name)) return undefined
  const { others, pins = {}, pullOhm, says, status, source } = RESET_PINS[chip]
  const own = (['pull-up', 'pull-down', 'driven'] as const).find((s) => pins[s]?.includes(name))
  const state = own ?? others
  return {
    state,
    ...(state === 'pull-up' || state === 'pull-down' ? { pullOhm } : {}),
    ...(says === undefined ? {} : { says }),
    status,
    source,
  }
}

export interface LogicLevels {
  supplyVolt: number
  /** A high output is at least, a low output at most so much, with the load asked for; absent beyond the rated load. */
  output?: { highMinVolt: number; lowMaxVolt: number; loadAmp: number }
  /** An input surely reads low up to, high from. */
  input: { lowMaxVolt: number; highMinVolt: number }
  /** Most that a pin may see, V (absolute maximum). */
  pinMaxVolt: number
  says?: string
  status: FactStatus
  source: string
}

/**
 * Guaranteed levels of a chip's pins. The data sheet's drop across the output stage is that of a resistance: at a
 * smaller load it is taken in proportion, which is more than a field-effect transistor drops, and at a supply between two
 * ratings the one of the lower supply counts, whose resistance is greater.
 * @param at supply voltage of the pins, V (the usual one when absent), and load of the output, A (none when absent)
 * @returns undefined where the supply is outside what the chip allows.
 */
export function logicLevels(
  chip: ChipId,
  at: { supplyVolt?: number; loadAmp?: number } = {},
): LogicLevels | undefined {
  const data = PIN_LEVELS[chip]
  const supplyVolt = at.supplyVolt ?? data.supplyVolt.usual
  if (supplyVolt < data.supplyVolt.min || supplyVolt > data.supplyVolt.max) return undefined
  const loadAmp = Math.abs(at.loadAmp ?? 0)
  const rated = data.output.filter((r) => r.supplyVolt <= supplyVolt + 1e-9).at(-1)
  const part = rated && loadAmp / rated.loadAmp
  const volt = (t: Threshold) => t.share * supplyVolt + t.volt
  return {
    supplyVolt,
    ...(rated !== undefined && part !== undefined && part <= 1
      ? {
          output: {
            highMinVolt: supplyVolt - part * (rated.supplyVolt - rated.highMinVolt),
            lowMaxVolt: part * rated.lowMaxVolt,
            loadAmp,
          },
        }
      : {}),
    input: { lowMaxVolt: volt(data.input.lowMax), highMinVolt: volt(data.input.highMin) },
    pinMaxVolt: supplyVolt + data.aboveSupplyVolt,
    ...(data.says === undefined ? {} : { says: data.says }),
    status: data.status,
    source: data.source,
  }
}
