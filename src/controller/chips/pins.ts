/** What a pin of a controller has to do beside what a design wants of it, and what that means for a design. */
import type { Finding } from '../../finding/index.js'
import { pinName } from './chip.js'
import { CHIPS, type ChipId } from './chips.js'
import { PIN_FINDINGS } from './findings.data.js'
import type { PinCare, PinDuty } from './pin-rule.js'
import { CHIP_PINS } from './pins.data.js'

export interface PinUse {
  as: 'output' | 'input'
  /** Source of the clock as the design file names it. */
  clock?: string
  /** Pins that the design declares as checked, any spelling. */
  checked?: readonly string[]
}

export interface PinConcern {
  care: PinCare
  duty: PinDuty
  /** The design says that the circuit around the pin has been checked; `strap` and `check` are settled by it. */
  checked: boolean
  finding: Finding
}

const OUTSIDE: readonly string[] = ['crystal', 'resonator']

/**
 * What speaks against a pin or asks for care, the gravest first; empty when nothing does.
 * @param pin any spelling; a pin that the chip has not is the concern `no-such-pin`
 */
export function pinConcerns(chip: ChipId, pin: string, use: PinUse): PinConcern[] {
  const name = pinName(pin)
  const info = CHIPS[chip]
  const { rules } = CHIP_PINS[chip]
  const checked = (use.checked ?? []).some((p) => pinName(p) === name)
  const concern = (duty: PinDuty, care: PinCare, detail?: string): PinConcern => ({
    care,
    duty,
    checked: checked && (care === 'strap' || care === 'check'),
    finding: PIN_FINDINGS.find(duty, { pin: name, chip: info.name, detail: detail ?? '' }),
  })
  // Pins without a port, such as converter inputs, are known by their rules alone.
  if (!info.pins.includes(name) && !rules.some((r) => r.pins.includes(name)))
    return [concern('no-such-pin', 'forbidden')]
  const outside = use.clock === undefined || OUTSIDE.includes(use.clock)
  return rules
    .filter(
      (r) =>
        r.pins.includes(name) && !(r.outputsOnly && use.as === 'input') && !(r.outsideClockOnly && !outside),
    )
    .map((r) => concern(r.duty, r.care, r.detail))
    .sort((a, b) => RANK[a.care] - RANK[b.care])
}

const RANK: Readonly<Record<PinCare, number>> = { forbidden: 0, strap: 1, check: 2, note: 3 }

/** What a concern makes of `pin-conflict`. */
export function verdictOfConcern({ care, checked }: PinConcern): 'met' | 'undecided' | 'broken' {
  if (care === 'forbidden' || (care === 'strap' && !checked)) return 'broken'
  return care === 'check' && !checked ? 'undecided' : 'met'
}

/** Output pins in the chip's own order that nothing speaks against; those without even a note come first. */
export function freePins(chip: ChipId, use: Omit<PinUse, 'as'>, taken: ReadonlySet<string>): string[] {
  const graded = CHIPS[chip].pins
    .filter((pin) => !taken.has(pin))
    .map((pin) => ({ pin, concerns: pinConcerns(chip, pin, { ...use, as: 'output' }) }))
    .filter(({ concerns }) => concerns.every((c) => verdictOfConcern(c) === 'met'))
  return [
    ...graded.filter((p) => p.concerns.length === 0),
    ...graded.filter((p) => p.concerns.length > 0),
  ].map((p) => p.pin)
}
