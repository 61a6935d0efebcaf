/** Which pin of the controller goes where: the signal from its best timer, the enable and the current sense. */
import {
  CHIPS,
  type ControllerDesign,
  pinConcerns,
  pinName,
  searchTimers,
  type TimerOption,
  verdictOfConcern,
} from '../controller/index.js'
import { startFindings } from '../design/index.js'
import type { Finding } from '../finding/index.js'
import { driverPart } from '../power/index.js'
import { profileOf } from '../standard/index.js'
import type { Answers } from './answers.js'
import { CONVERTERS } from './parts.data.js'

export interface Wiring {
  option: TimerOption
  pin: string
  /** The second input's, where the driver has one for each leg. */
  inverted?: string
  enable: string
  /** The converter's; absent where the controller has none left. */
  sense?: string
}

/** Ways that a wiring can fail: what is missing, and which question decides it. */
export interface WiringProblem {
  question: 'pin' | 'driver' | 'chip' | 'source'
  finding: Finding
}

export function wiringOf(a: Answers): Wiring | WiringProblem {
  const chip = CHIPS[a.chip]
  const clock = { frequency: a.clock, source: a.source } as ControllerDesign['clock']
  const { clauses } = profileOf({ profile: a.profile, scale: a.scale, cutout: false })
  const isPair = driverPart(a.driver)?.inputs === 'pair'
  const use = (as: 'input' | 'output') => ({ as, clock: clock.source }) as const
  const free = (pin: string, as: 'input' | 'output') =>
    pinConcerns(a.chip, pin, use(as)).every((c) => verdictOfConcern(c) === 'met')
  const track = {
    oneHalf: 58,
    zeroHalf: 100,
    ...(a.pin === '' ? {} : { pin: a.pin }),
    // Any second pin will do: the search names the one that the timer has.
    ...(isPair ? { inverted: chip.pins[0]! } : {}),
  }
  const find = (pin: boolean) => {
    const wanted = isPair ? { ...track, pin: undefined } : track
    const { options, refused } = searchTimers({
      controller: { chip: a.chip, clock },
      track: pin && !isPair ? track : wanted,
      clauses,
      keepTo: pin && !isPair ? { pin: true } : {},
    })
    const fits = options.filter(
      (o) =>
        (a.pin === '' || pinName(o.pin) === pinName(a.pin)) &&
        (!isPair || (o.inverted !== undefined && o.behaviour !== 'pin' && o.inverted !== o.pin)) &&
        [o.pin, ...(isPair ? [o.inverted!] : [])].every((p) => free(p, 'output')),
    )
    return { fits, refused }
  }
  const { fits, refused } = find(a.pin !== '')
  const notes = (o: TimerOption) => o.pinConcerns.length
  const option = fits.find((o) => notes(o) === 0) ?? fits[0]
  if (!option) {
    if (a.pin !== '') {
      const [concern] = pinConcerns(a.chip, a.pin, use('output'))
      const why = concern?.finding.sentence ?? refused[0]?.refused ?? `no timer drives ${a.pin}`
      return { question: 'pin', finding: startFindings.find('no-timer', { chip: chip.name, why }) }
    }
    // Where the clock is too far off, no other driver helps.
    const single = isPair
      ? searchTimers({ controller: { chip: a.chip, clock }, track: { oneHalf: 58, zeroHalf: 100 }, clauses })
      : undefined
    if (single && single.options.length === 0) {
      const why = single.refused[0]?.refused ?? 'none drives a pin'
      return { question: 'source', finding: startFindings.find('no-timer', { chip: chip.name, why }) }
    }
    if (isPair)
      return {
        question: 'driver',
        finding: startFindings.find('no-pair', { chip: chip.name, driver: a.driver }),
      }
    const why = refused[0]?.refused ?? 'none drives a pin'
    return { question: 'source', finding: startFindings.find('no-timer', { chip: chip.name, why }) }
  }
  const taken = new Set(
    [option.pin, ...(option.inverted === undefined ? [] : [option.inverted])].map(pinName),
  )
  const converter = CONVERTERS[a.chip]
  const sense = converter.pins.find((p) => !taken.has(pinName(p)) && free(p, 'input'))
  if (sense !== undefined) taken.add(pinName(sense))
  const outputs = chip.pins.filter((p) => !taken.has(pinName(p)) && free(p, 'output'))
  const enable =
    outputs.find((p) => pinConcerns(a.chip, p, use('output')).length === 0 && !converter.pins.includes(p)) ??
    outputs[0]
  if (enable === undefined)
    return {
      question: 'chip',
      finding: startFindings.find('no-pin', { chip: chip.name, use: 'the enable input of the driver' }),
    }
  return {
    option,
    pin: option.pin,
    enable,
    ...(isPair ? { inverted: option.inverted! } : {}),
    ...(sense === undefined ? {} : { sense }),
  }
}
