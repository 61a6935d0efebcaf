/** What no calculation can work with: names that lead nowhere, contradictions, missing figures; each with its place. */
import type { SignalDesign } from '../signal/index.js'
import { formatNumber, InputError, nearest } from '../units/index.js'
import { ACK_AMP } from './acknowledgement.js'
import type { PowerDesign } from './design/index.js'
import { resolveDriver, unknownPart } from './driver.js'
import { unreadDistricts } from './driver-pins.js'
import { driverPart } from './parts.data.js'
import { senseChain, thresholdFor } from './sense.js'
import { districtStage, sensedOf } from './stage.js'

/** Keys and list indices from the top of the design file: `['power', 'drivers', 'main', 'part']`. */
export interface PowerProblem {
  path: (string | number)[]
  message: string
}

/**
 * All problems of the power part; empty when it can be calculated.
 * @param pins of the controller; those of the driver boards are not looked up without
 * @param converter the controller's own; without it, or for a sense on no pin of the controller, any converter will do
 */
export function checkPower(
  power: PowerDesign,
  signal?: SignalDesign,
  pins?: readonly string[],
  converter?: ConverterFacts,
): PowerProblem[] {
  const problems: PowerProblem[] = []
  const report = (path: (string | number)[], message: string) =>
    problems.push({ path: ['power', ...path], message })
  checkSupplies(power, report)
  checkDrivers(power, signal, report)
  if (pins) checkPins(power, pins, report)
  if (converter) checkConverter(power, converter, report)
  if (problems.length === 0) {
    checkDistricts(power, signal, report)
    checkSensePins(power, signal, report)
  }
  const from = power.controller
  if (from?.from === 'track' && (from.supply !== undefined || Object.keys(power.supplies).length > 1)) {
    checkName(['controller', 'supply'], 'supply', from.supply, Object.keys(power.supplies), report)
  }
  return problems
}

/** @throws InputError with the first problem. */
export function requireSound(power: PowerDesign, signal?: SignalDesign): void {
  const [first] = checkPower(power, signal)
  if (first) throw new InputError(`${first.path.join('.')}: ${first.message}`)
}

type Report = (path: (string | number)[], message: string) => void

function checkName(
  path: string[],
  what: string,
  name: string | undefined,
  names: string[],
  report: Report,
): boolean {
  if (name === undefined) {
    if (names.length === 1) return true
    report(
      path.slice(0, -1),
      `there are several: say with "${path.at(-1)}" which ${what}; one of ${names.join(', ')}`,
    )
    return false
  }
  if (names.includes(name)) return true
  const close = nearest(name, names)
  report(
    path,
    `there is no ${what} "${name}"${close ? `; the nearest is "${close}"` : ''}; expected one of ${names.join(', ')}`,
  )
  return false
}

function checkSupplies(power: PowerDesign, report: Report): void {
  for (const [name, supply] of Object.entries(power.supplies)) {
    if (supply.limitCurrent !== undefined && supply.limitCurrent < supply.rating) {
      report(
        ['supplies', name, 'limitCurrent'],
        `the limit of ${formatNumber(supply.limitCurrent)} A lies below the rating of ${formatNumber(supply.rating)} A; expected at least the rating`,
      )
    }
    if (supply.limitCurrent !== undefined && supply.limit === 'none') {
      report(
        ['supplies', name, 'limitCurrent'],
        `a limit of ${formatNumber(supply.limitCurrent)} A, but "limit: none"; expected only one of the two`,
      )
    }
  }
}

/** Inputs of a board that the controller drives; other pins may sit on analog inputs, which no list of its ports has. */
const DRIVEN = ['direction', 'inverted', 'enable', 'brake']

/** What a controller's own converter can do. */
export interface ConverterFacts {
  name: string
  bits: number
  /** Conversions a second at that resolution, of all channels together. */
  mostPerSecond: number
}

/** A sense on a pin of the controller is read by its converter, one channel after the other. */
function checkConverter(power: PowerDesign, converter: ConverterFacts, report: Report): void {
  const drivers = Object.keys(power.drivers)
  const read = Object.entries(power.districts).flatMap(([name, { sense, driver = drivers[0]! }]) => {
    const pins = power.drivers[driver]?.pins ?? []
    return sense && pins.some((p) => p.role === 'sense' && (p.wired ?? p.fixed) !== undefined)
      ? [{ name, sense }]
      : []
  })
  for (const { name, sense } of read)
    if (sense.bits > converter.bits)
      report(
        ['districts', name, 'sense', 'bits'],
        `the converter of the ${converter.name} has ${converter.bits} bits; found ${sense.bits}`,
      )
  const perSecond = read.reduce((sum, { sense }) => sum + sense.rate, 0)
  const fastest = read.reduce((a, b) => (b.sense.rate > a.sense.rate ? b : a), read[0]!)
  if (perSecond > converter.mostPerSecond * 1.05)
    report(
      ['districts', fastest.name, 'sense', 'rate'],
      `${formatNumber(perSecond)} samples a second${read.length > 1 ? ` of ${read.length} channels` : ''}; the converter of the ${converter.name} makes ${formatNumber(converter.mostPerSecond)} /s in all`,
    )
}

/** One spelling of a pin: PA05 is PA5, GP2 is GPIO2. */
function spelled(pin: string): string {
  return pin
    .toUpperCase()
    .replace(/^GP(?=\d)/, 'GPIO')
    .replace(/^([A-Z]+)0+(?=\d)/, '$1')
}

/** Pins of the driver boards that the controller does not have. */
function checkPins(power: PowerDesign, pins: readonly string[], report: Report): void {
  const there = pins.map(spelled)
  for (const [name, driver] of Object.entries(power.drivers)) {
    driver.pins?.forEach((pin, i) => {
      if (!DRIVEN.includes(pin.role)) return
      for (const key of ['fixed', 'wired'] as const) {
        const wanted = pin[key]
        if (wanted === undefined || there.includes(spelled(wanted))) continue
        const close = nearest(spelled(wanted), there)
        report(
          ['drivers', name, 'pins', i, key],
          `the controller has no pin ${wanted}${close ? `; the nearest is ${close}` : ''}`,
        )
      }
    })
  }
}

function checkDrivers(power: PowerDesign, signal: SignalDesign | undefined, report: Report): void {
  for (const [name, driver] of Object.entries(power.drivers)) {
    const at = (...rest: (string | number)[]) => ['drivers', name, ...rest]
    const custom = driver.part.trim().toLowerCase() === 'custom'
    if (!custom && !driverPart(driver.part)) {
      report(at('part'), unknownPart(driver.part))
      continue
    }
    checkName(['drivers', name, 'supply'], 'supply', driver.supply, Object.keys(power.supplies), report)
    const model = resolveDriver(driver)
    const pairs = [
      ['supplyMin', model.supplyMinVolt, 'supplyMax', model.supplyMaxVolt],
      ['highOhm', model.highOhm, 'highOhmMax', model.highOhmMax],
      ['lowOhm', model.lowOhm, 'lowOhmMax', model.lowOhmMax],
      ['risingDelayMin', model.risingDelayMinUs, 'risingDelayMax', model.risingDelayMaxUs],
      ['fallingDelayMin', model.fallingDelayMinUs, 'fallingDelayMax', model.fallingDelayMaxUs],
      ['limitMin', model.limitMinAmp, 'limit', model.limitAmp],
      ['continuous', model.continuousAmp, 'peak', model.peakAmp],
      ['continuous', model.continuousAmp, 'continuousParallel', model.continuousParallelAmp],
    ] as const
    for (const [low, a, high, b] of pairs) {
      if (a !== undefined && b !== undefined && a > b) {
        report(at('figures'), `${low} (${formatNumber(a)}) is above ${high} (${formatNumber(b)})`)
      }
    }
    const { junctionToAmbient } = driver.cooling ?? {}
    const inside = model.junctionToCase
    if (junctionToAmbient !== undefined && inside !== undefined && junctionToAmbient < inside) {
      report(
        at('cooling', 'junctionToAmbient'),
        `${formatNumber(junctionToAmbient)} K/W to the air is less than the ${formatNumber(inside)} K/W to the case of the ${model.name}; expected more than that, or "sink" for that of the heat sink alone`,
      )
    }
    const points = model.saturation ?? []
    for (let i = 0; i < points.length; i++) {
      const p = points[i]!
      if (p.mostVolt < p.typicalVolt)
        report(
          at('figures', 'saturation'),
          `at ${formatNumber(p.atAmp)} A the greatest voltage is below the typical one`,
        )
      if (i > 0 && p.atAmp === points[i - 1]!.atAmp)
        report(at('figures', 'saturation'), `two points at ${formatNumber(p.atAmp)} A`)
      else if (i > 0 && (p.typicalVolt < points[i - 1]!.typicalVolt || p.mostVolt < points[i - 1]!.mostVolt))
        report(
          at('figures', 'saturation'),
          `the voltage falls from ${formatNumber(points[i - 1]!.atAmp)} A to ${formatNumber(p.atAmp)} A; expected one that rises with the current`,
        )
    }
    driver.pins?.forEach((pin, i) => {
      const most = Math.floor(model.bridgesPerPackage)
      if (pin.channel !== undefined && most > 1 && pin.channel > most)
        report(
          at('pins', i, 'channel'),
          `the driver "${name}" (${model.name}) has channels 1 to ${most}; found ${pin.channel}`,
        )
      const outputs = Object.keys(signal?.outputs ?? {})
      if (pin.output !== undefined && signal && !outputs.includes(pin.output)) {
        checkName(
          ['drivers', name, 'pins', String(i), 'output'],
          'output',
          pin.output,
          outputs,
          (_, message) => report(at('pins', i, 'output'), message),
        )
      }
    })
  }
}

/** One pin read for two districts would trip either by the current of the other. */
function checkSensePins(power: PowerDesign, signal: SignalDesign | undefined, report: Report): void {
  for (const driver of Object.keys(power.drivers))
    for (const { name } of unreadDistricts(sensedOf(power, driver, signal)))
      report(
        ['districts', name, 'sense'],
        `no pin with the role "sense" of driver "${driver}" is left for the current of district "${name}"; expected one for each sense, with "channel" where the driver has several`,
      )
}

function checkDistricts(power: PowerDesign, signal: SignalDesign | undefined, report: Report): void {
  /** Driver and channel → districts that use it. */
  const users = new Map<string, { name: string; channels: string; breaker: boolean; output?: string }[]>()
  for (const [name, district] of Object.entries(power.districts)) {
    const at = (...rest: (string | number)[]) => ['districts', name, ...rest]
    if (
      !checkName(['districts', name, 'driver'], 'driver', district.driver, Object.keys(power.drivers), report)
    )
      continue
    if (signal)
      checkName(['districts', name, 'output'], 'output', district.output, Object.keys(signal.outputs), report)
    const stage = districtStage(power, name, signal)
    const channelsAt = district.channels ? at('channels') : at()
    const { model, channels } = stage
    if (district.fuseKind === 'resettable' && district.fuseI2t !== undefined)
      report(at('fuseI2t'), 'a resettable fuse does not melt; leave this out')
    if (new Set(channels).size < channels.length) report(channelsAt, 'a channel is named twice')
    if (model.bridgesPerPackage > 1) {
      const beyond = channels.find((c) => c > model.bridgesPerPackage)
      if (beyond !== undefined) {
        report(
          channelsAt,
          `the driver "${stage.driverName}" (${model.name}) has channels 1 to ${model.bridgesPerPackage}; found ${beyond}`,
        )
      }
    }
    for (const c of channels) {
      const key = `${stage.driverName} ${c}`
      const list = users.get(key) ?? []
      const set = [...channels].sort().join('+')
      for (const other of list) {
        if (other.channels !== set) {
          report(
            channelsAt,
            `channel ${c} of driver "${stage.driverName}" works in another combination for district "${other.name}"`,
          )
          break
        }
        if (district.output !== undefined && other.output !== undefined && district.output !== other.output) {
          report(
            channelsAt,
            `channel ${c} of driver "${stage.driverName}" repeats output "${other.output}" for district "${other.name}"; it cannot repeat "${district.output}" too`,
          )
          break
        }
        if (district.trip?.by !== 'breaker' || !other.breaker) {
          report(
            at(),
            `shares channel ${c} of driver "${stage.driverName}" with district "${other.name}": districts behind one channel need breakers of their own (trip by breaker)`,
          )
          break
        }
      }
      list.push({
        name,
        channels: set,
        breaker: district.trip?.by === 'breaker',
        ...(district.output === undefined ? {} : { output: district.output }),
      })
      users.set(key, list)
    }
    const { load, trip, sense, acknowledgement } = district
    if (load?.worst !== undefined && load.worst < load.running)
      report(at('load', 'worst'), 'the worst current is below the usual one')
    if (load?.stalled !== undefined && load.stalled < (load.worst ?? load.running)) {
      report(at('load', 'stalled'), 'the current with everything stalled is below the worst one')
    }
    if (sense) {
      const chain = senseChain(sense, model)
      if ('problem' in chain) report(at('sense'), chain.problem)
      else if (chain.rangeAmp <= 0)
        report(at('sense', 'zero'), 'the output at no current lies beyond the reference of the converter')
      else if (trip?.by === 'sense') {
        const threshold = thresholdFor(chain, trip.current)
        if (!threshold.reachable) {
          report(
            at('trip', 'current'),
            `${formatNumber(trip.current)} A cannot be read: the current sense ends at ${formatNumber(chain.rangeAmp, 3)} A; take a smaller resistance or gain`,
          )
        }
      }
    }
    if (trip) {
      if (trip.of !== undefined && trip.of < trip.samples)
        report(at('trip', 'of'), `${trip.samples} samples out of ${trip.of} cannot be`)
      if (trip.by === 'sense' && !sense)
        report(at('trip'), 'trips by sense, but the district has no current sense')
      if (trip.by === 'driver' && model.limitAmp === undefined) {
        report(
          at('trip', 'by'),
          `the driver ${model.name} has no current limit of its own that is known; give figures.limit or another way`,
        )
      }
    }
    if (acknowledgement) {
      if (!sense)
        report(
          at('acknowledgement'),
          'an acknowledgement is seen over a current sense; the district has none',
        )
      const output = stage.output === undefined ? undefined : signal?.outputs[stage.output]
      if (output && output.mode !== 'service') {
        report(
          at('acknowledgement'),
          `output "${stage.output}" is in ${output.mode} mode; acknowledgements come on a service output`,
        )
      }
      const chain = sense && senseChain(sense, model)
      const most = acknowledgement.quiescent + ACK_AMP
      if (chain && !('problem' in chain) && most > chain.rangeAmp) {
        report(
          at('sense'),
          `a locomotive at rest draws ${formatNumber(acknowledgement.quiescent)} A, with an acknowledgement ${formatNumber(most)} A; the current sense ends at ${formatNumber(chain.rangeAmp, 3)} A; take a smaller resistance or gain`,
        )
      }
      const conversions = (acknowledgement.rate ?? 0) * acknowledgement.average
      if (sense && conversions > sense.rate * 1.001) {
        report(
          at('acknowledgement', 'rate'),
          `${formatNumber(acknowledgement.rate!)} decisions of ${acknowledgement.average} conversions are ${formatNumber(conversions)} /s; the current sense makes ${formatNumber(sense.rate)} /s`,
        )
      }
      if (acknowledgement.of !== undefined && acknowledgement.of < acknowledgement.samples) {
        report(
          at('acknowledgement', 'of'),
          `${acknowledgement.samples} samples out of ${acknowledgement.of} cannot be`,
        )
      }
    }
  }
}
