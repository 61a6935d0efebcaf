/** From the supplies and the controller to the terminals of each district. */
import { CHIPS } from '../../controller/index.js'
import type { BoardPin, DistrictStage } from '../../power/index.js'
import { formatSi } from '../../units/index.js'
import type { WireRole } from '../contents/options.js'
import type { WiringSources } from '../contents/sources.js'
import type { WiringList } from './connections.js'
import {
  hallPart,
  isInReturn,
  layGround,
  layReturn,
  laySensePin,
  shuntPart,
  sustained,
} from './sense-wiring.js'

/** Where the two wires of a district begin: part and terminal of each. */
export interface DistrictEnd {
  a: [part: string, at: string]
  b: [part: string, at: string]
  amp?: number
}

const amps = (value: number | undefined) => (value === undefined ? '' : formatSi(value, 'A', 3))

export function layPower(list: WiringList, s: WiringSources): Map<string, DistrictEnd> {
  const { controller, power } = s.loaded.design
  const brain = list.part('controller', '', 'Controller', CHIPS[controller.chip].name)
  feedController(list, s, brain)
  const ends = new Map<string, DistrictEnd>()
  if (!power) return ends
  for (const name of Object.keys(power.drivers)) {
    const stages = s.stages.filter((d) => d.driverName === name)
    if (stages.length > 0) layDriver(list, s, stages, brain, ends)
  }
  return ends
}

function feedController(list: WiringList, s: WiringSources, brain: string): void {
  const { power } = s.loaded.design
  const own = power?.controller
  if (!power || own?.from !== 'track') {
    const supply = list.part('own supply', '', 'Supply of the controller', 'USB or its own')
    list.wire({
      from: supply,
      fromAt: 'output',
      to: brain,
      toAt: 'supply input',
      roles: ['logic supply', 'ground'],
      because: 'controller',
    })
    return
  }
  const name = own.supply ?? Object.keys(power.supplies)[0]!
  const supply = supplyPart(list, s, name)
  const regulator = list.part(
    'regulator',
    '',
    'Regulator',
    `${own.regulator}, ${formatSi(own.voltage, 'V', 3)}`,
  )
  const amp = own.current
  const pair = { amp, because: 'power.controller' }
  const [from, fromAt] = fusedPlus(list, s, name, supply, {})
  list.wire({ ...pair, from, fromAt, to: regulator, toAt: 'in', roles: ['supply plus'] })
  list.wire({ ...pair, from: supply, fromAt: '−', to: regulator, toAt: 'ground', roles: ['supply minus'] })
  list.wire({
    ...pair,
    from: regulator,
    fromAt: 'out',
    to: brain,
    toAt: 'supply input',
    roles: ['logic supply'],
  })
}

function supplyPart(list: WiringList, s: WiringSources, name: string): string {
  const { voltage, rating } = s.loaded.design.power!.supplies[name]!
  return list.part('supply', name, `Supply ${name}`, `${formatSi(voltage, 'V', 3)}, ${amps(rating)}`)
}

/** Where the plus of a supply is taken: behind its fuse, where it has one. */
function fusedPlus(
  list: WiringList,
  s: WiringSources,
  name: string,
  supply: string,
  amp: { amp?: number },
): [part: string, at: string] {
  const feed = s.loaded.design.power!.supplies[name]!.fuse
  if (feed === undefined) return [supply, '+']
  const fuse = list.part('fuse', `supply ${name}`, `Fuse of supply ${name}`, amps(feed))
  if (!list.connections.some((c) => c.to === fuse))
    list.wire({
      ...amp,
      from: supply,
      fromAt: '+',
      to: fuse,
      toAt: 'in',
      roles: ['supply plus'],
      because: `power.supplies.${name}.fuse`,
    })
  return [fuse, 'out']
}

function layDriver(
  list: WiringList,
  s: WiringSources,
  stages: readonly DistrictStage[],
  brain: string,
  ends: Map<string, DistrictEnd>,
): void {
  const [{ driverName: name, driver: design, model, supplyName }] = stages as [DistrictStage]
  const driver = list.part('driver', name, `Driver ${name}`, model.name)
  const supply = supplyPart(list, s, supplyName)
  const all = stages.reduce((sum, d) => sum + (sustained(s, d.name) ?? 0), 0)
  const total = all > 0 ? { amp: all } : {}
  const because = `power.drivers.${name}`
  const [plus, plusAt] = fusedPlus(list, s, supplyName, supply, total)
  list.wire({ ...total, from: plus, fromAt: plusAt, to: driver, toAt: '+', roles: ['supply plus'], because })
  const returns = stages.filter(isInReturn)
  for (const d of returns) layReturn(list, s, d, supply, driver, returns.length > 1)
  if (returns.length === 0)
    list.wire({
      ...total,
      from: supply,
      fromAt: '−',
      to: driver,
      toAt: '−',
      roles: ['supply minus'],
      because,
    })
  layGround(list, s, supplyName, supply, brain)
  if (design.pins) layPins(list, design.pins, stages, brain, driver, because)
  else laySignal(list, s, stages, brain, driver)
  for (const d of stages) ends.set(d.name, districtEnd(list, s, d, brain, driver))
}

const ROLE: Readonly<Record<BoardPin['role'], WireRole>> = {
  direction: 'signal',
  inverted: 'signal',
  enable: 'enable',
  brake: 'enable',
  sense: 'sense',
  fault: 'sense',
  other: 'signal',
}

function layPins(
  list: WiringList,
  pins: readonly BoardPin[],
  stages: readonly DistrictStage[],
  brain: string,
  driver: string,
  because: string,
): void {
  // Of several districts behind one channel the first stands for the sensor that they share.
  const readBy = new Map([...stages].reverse().map((d) => [d.sensePin, d]))
  pins.forEach((pin, i) => {
    const why = `${because}.pins.${i}`
    // A contact that meets the controller by itself is no wire, but a connection all the same.
    const at = pin.wired ?? pin.fixed
    if (pin.tied)
      list.wire({
        from: brain,
        fromAt: pin.tied === 'high' ? 'logic supply' : 'GND',
        to: driver,
        toAt: pin.name,
        roles: [pin.tied === 'high' ? 'logic supply' : 'ground'],
        because: why,
      })
    else if (at !== undefined && readBy.has(pin))
      laySensePin(list, readBy.get(pin)!, pin.name, at, brain, driver, why)
    else if (at !== undefined)
      list.wire({
        from: brain,
        fromAt: at,
        to: driver,
        toAt: pin.name,
        roles: [ROLE[pin.role]],
        because: why,
      })
  })
}

/** A driver whose pins the design does not list: the output's own pins. */
function laySignal(
  list: WiringList,
  s: WiringSources,
  stages: readonly DistrictStage[],
  brain: string,
  driver: string,
): void {
  for (const name of new Set(stages.map((d) => d.output).filter((o) => o !== undefined))) {
    const { pin, inverted } = s.loaded.design.signal.outputs[name]!
    const because = `signal.outputs.${name}`
    list.wire({ from: brain, fromAt: pin, to: driver, toAt: 'signal input', roles: ['signal'], because })
    if (inverted !== undefined)
      list.wire({
        from: brain,
        fromAt: inverted,
        to: driver,
        toAt: 'inverted input',
        roles: ['signal'],
        because,
      })
  }
}

const sameChannels = (a: DistrictStage, b: DistrictStage) => a.channels.every((c) => b.channels.includes(c))

/** Driver → sensor in a leg → fuse → breaker, whichever there are. */
function districtEnd(
  list: WiringList,
  s: WiringSources,
  d: DistrictStage,
  brain: string,
  driver: string,
): DistrictEnd {
  const { district, name, channels } = d
  const amp = sustained(s, name)
  const more = { ...(amp === undefined ? {} : { amp }), roles: ['rail A'] as const }
  const isAlone = s.stages.every((x) => x.driverName !== d.driverName || sameChannels(x, d))
  const suffix = !isAlone || channels.length > 1 || channels[0] !== 1 ? ` ${channels.join('+')}` : ''
  let a: [string, string] = [driver, `out A${suffix}`]
  const because = `power.districts.${name}`
  const through = (part: string, entry: string, exit: string, why: string) => {
    list.wire({ ...more, from: a[0], fromAt: a[1], to: part, toAt: entry, because: why })
    a = [part, exit]
  }
  const { sense, fuse, trip } = district
  if (sense?.kind === 'hall') {
    const hall = hallPart(list, d)
    through(hall, 'in', 'out', `${because}.sense`)
    list.wire({
      from: brain,
      fromAt: 'logic supply',
      to: hall,
      toAt: 'supply',
      roles: ['logic supply'],
      because: `${because}.sense`,
    })
    list.wire({
      from: brain,
      fromAt: 'GND',
      to: hall,
      toAt: 'ground',
      roles: ['ground'],
      because: `${because}.sense`,
    })
  }
  if (sense?.kind === 'shunt' && sense.sees === 'one')
    through(shuntPart(list, d), 'driver side', 'track side', `${because}.sense`)
  if (fuse !== undefined)
    through(
      list.part('fuse', `district ${name}`, `Fuse of district ${name}`, amps(fuse)),
      'in',
      'out',
      `${because}.fuse`,
    )
  if (trip?.by === 'breaker')
    through(
      list.part(
        'breaker',
        name,
        `Breaker of ${name}`,
        trip.current === undefined ? '' : `trips at ${amps(trip.current)}`,
      ),
      'in',
      'out',
      `${because}.trip`,
    )
  return { a, b: [driver, `out B${suffix}`], ...(amp === undefined ? {} : { amp }) }
}
