/** The analog converter of the chip: reference, clock and how often each sense is read. */
import { AVR_MODELS, type SimulatedChip } from '../../controller/index.js'
import type { LoadedDesign } from '../../design/index.js'
import { controllerPin, type DistrictStage } from '../../power/index.js'
import type { Refuse } from './plan.js'

export interface ConverterPlan {
  /** Conversions per second, of all senses together. */
  rate: number
  prescaler: number
  /** Names of the prescaler's bits that are set. */
  prescaleBits: string[]
  /** Some channel is above 7: its fifth bit is in another register. */
  highMux: boolean
  referenceBits: string[]
  /** The reference in words. */
  referenceSays: string
  channelOf(pin: string): number | undefined
  /** Every how many-th reading of a sense counts, and how many a second that makes. */
  pace(wanted: number): { every: number; rate: number }
}

/** A conversion takes 13 clocks of the converter (data sheets of the three chips, analog-to-digital converter). */
const CLOCKS = 13
const PRESCALERS = [128, 64, 32, 16]
/** Above 200 kHz the converter loses accuracy, above 1 MHz it is not specified (the same). */
const MOST_HZ = 1e6
/** More would take more than a tenth of the time: about 70 cycles each. */
const MOST_RATE = 20_000
/** A reference is meant where it is as near as this, share: its own tolerance is the design's matter. */
const NEAR = 0.06
/** Readings may be this much rarer than the design says, share. */
const SLACK = 0.02

export function converterPlan(
  chip: SimulatedChip | undefined,
  loaded: LoadedDesign,
  stages: readonly DistrictStage[],
  refuse: Refuse,
): ConverterPlan {
  const { controller, power } = loaded.design
  const senses = stages.flatMap((s) => (s.district.sense ? [{ name: s.name, ...s.district.sense }] : []))
  const fastest = senses.reduce((a, b) => (b.rate > a.rate ? b : a), senses[0]!)
  const pins = chip && AVR_MODELS[chip].adc.pins
  const channelOf = (pin: string) => {
    // A chip that is calculated only: the builder's own code knows its inputs.
    if (!pins) return 0
    const found = Object.entries(pins).find(([, p]) => p === pin)
    return found && Number(found[0])
  }
  if (!chip || !fastest) {
    const rate = (fastest?.rate ?? 1) * Math.max(1, stages.length)
    const pace = (wanted: number) => ({ every: 1, rate: wanted })
    return {
      rate,
      prescaler: 1,
      prescaleBits: [],
      highMux: false,
      referenceBits: [],
      referenceSays: '',
      channelOf,
      pace,
    }
  }
  for (const s of senses) {
    const path = ['power', 'districts', s.name, 'sense', 'bits']
    if (s.bits !== 10)
      refuse(path, `a converter of ${s.bits} bits; the controller's own has 10, expected that`)
  }
  const perSecond = (p: number) => controller.clock.frequency / p / CLOCKS
  const enough = (p: number) => perSecond(p) / stages.length >= fastest.rate * (1 - SLACK)
  const usable = PRESCALERS.filter(
    (p) => controller.clock.frequency / p <= MOST_HZ && perSecond(p) <= MOST_RATE,
  )
  const prescaler = usable.find(enough)
  if (prescaler === undefined) {
    const best = Math.floor(Math.max(...usable.map(perSecond), 0) / stages.length)
    refuse(
      ['power', 'districts', fastest.name, 'sense', 'rate'],
      `${fastest.rate} readings a second; with ${stages.length} sense${stages.length > 1 ? 's' : ''} the converter makes at most ${best} of each, expected no more`,
    )
  }
  const rate = perSecond(prescaler)
  const reference = referenceOf(chip, senses, power?.controller?.voltage ?? 5, refuse)
  const bits = Math.log2(prescaler)
  return {
    rate,
    prescaler,
    prescaleBits: [2, 1, 0].filter((b) => bits & (1 << b)).map((b) => `ADPS${b}`),
    highMux: stages.some((s) => s.sensePin && (channelOf(controllerPin(s.sensePin) ?? '') ?? 0) > 7),
    ...reference,
    channelOf,
    pace: (wanted) => {
      const every = Math.max(1, Math.min(255, Math.floor((rate / stages.length / wanted) * (1 + SLACK))))
      return { every, rate: rate / stages.length / every }
    },
  }
}

function referenceOf(
  chip: SimulatedChip,
  senses: readonly { name: string; reference: number }[],
  supplyVolt: number,
  refuse: Refuse,
): Pick<ConverterPlan, 'referenceBits' | 'referenceSays'> {
  const wanted = senses[0]!.reference
  const other = senses.find((s) => s.reference !== wanted)
  if (other)
    refuse(
      ['power', 'districts', other.name, 'sense', 'reference'],
      `two references, ${wanted} V and ${other.reference} V, and the converter needs time to go from one to the other; expected the same for all`,
    )
  const { references } = AVR_MODELS[chip].adc
  // By REFS bits: 0 is the pin AREF, 1 the supply, 2 and 3 are internal.
  const near = (volt: number) => Math.abs(volt - wanted) <= NEAR * wanted
  const index = [3, 2, 1].find((i) => {
    const r = references[i]!
    // Both of these leave the same; 2 is reserved where it is no voltage of its own.
    return i !== 2 || references[2] !== references[3]
      ? near(r === 'supply' ? supplyVolt : r) && !(i === 2 && r === 'supply')
      : false
  })
  if (index === undefined) {
    const known = [1, 2, 3].map((i) => references[i]!).map((r) => (r === 'supply' ? supplyVolt : r))
    refuse(
      ['power', 'districts', senses[0]!.name, 'sense', 'reference'],
      `${wanted} V is no reference of this controller; expected one of ${[...new Set(known)].join(' V, ')} V`,
    )
  }
  const says =
    references[index] === 'supply' ? `the supply, ${supplyVolt} V` : `internal, ${references[index]} V`
  return { referenceBits: [1, 0].filter((b) => index & (1 << b)).map((b) => `REFS${b}`), referenceSays: says }
}
