/** How the current of a district is read: shunts in the return of a driver, the controller's ground, the converter pin. */
import type { DistrictStage, SenseDesign } from '../../power/index.js'
import { formatSi } from '../../units/index.js'
import { USUAL_SERIES_OHM } from '../contents/options.js'
import type { WiringSources } from '../contents/sources.js'
import type { Connection, WiringList } from './connections.js'

/** Most that flows through a district continuously. */
export function sustained(s: WiringSources, district: string): number | undefined {
  return s.power?.districts.find((d) => d.name === district)?.sustainedAmp
}

/** A shunt that sees both polarities lies in the return of its driver; one that districts share is the first one's. */
export function isInReturn({ district: { sense }, sensorOf }: DistrictStage): boolean {
  return sense?.kind === 'shunt' && sense.sees === 'both' && sensorOf === undefined
}

/** Most that flows through the shunt of a district continuously, with what others send through it. */
function throughShunt(s: WiringSources, { name }: DistrictStage): number | undefined {
  const all = s.stages.filter((d) => d.name === name || d.sensorOf === name)
  const sum = all.reduce((amp, d) => amp + (sustained(s, d.name) ?? 0), 0)
  return sum > 0 ? sum : undefined
}

/** Districts of a supply whose shunts lie in its minus, in the order of the wiring list. */
export function returnsOf(s: Pick<WiringSources, 'stages'>, supplyName: string): DistrictStage[] {
  return s.stages.filter((d) => d.supplyName === supplyName && isInReturn(d))
}

/**
 * The converter reads against GND, so GND meets the shunt itself: what the lead from the supply drops would be read as current.
 * Once for each supply.
 */
export function layGround(
  list: WiringList,
  s: WiringSources,
  supplyName: string,
  supply: string,
  brain: string,
): void {
  const wire = { roles: ['ground'] as const, because: `power.supplies.${supplyName}` }
  if (list.connections.some((c) => c.because === wire.because && isGround(c, brain))) return
  const [first] = returnsOf(s, supplyName)
  if (first) list.wire({ ...wire, from: brain, fromAt: 'GND', to: shuntPart(list, first), toAt: SUPPLY_TAP })
  else list.wire({ ...wire, from: supply, fromAt: '−', to: brain, toAt: 'GND' })
}

const SUPPLY_TAP = 'sense tap, supply side'

/** The wire that joins a supply, or the shunt in its minus, with the ground of the controller. */
export function isGround(c: Pick<Connection, 'from' | 'to' | 'toAt' | 'roles'>, brain: string): boolean {
  if (!c.roles.includes('ground')) return false
  return c.to === brain ? c.toAt === 'GND' : c.from === brain && c.toAt === SUPPLY_TAP
}

export function shuntPart(list: WiringList, d: DistrictStage): string {
  const { resistance = 0, power } = d.district.sense!
  const rated = power === undefined ? '' : `, ${formatSi(power, 'W', 3)}`
  return list.part('sense', d.name, `Shunt of ${d.name}`, `${formatSi(resistance, 'Ohm', 3)}${rated}`)
}

/** All shunts of a supply meet at the supply side of the first, where GND is: none reads the lead of another. */
export function layReturn(
  list: WiringList,
  s: WiringSources,
  d: DistrictStage,
  supply: string,
  driver: string,
  several: boolean,
): void {
  const shunt = shuntPart(list, d)
  const amp = throughShunt(s, d)
  const because = `power.districts.${d.name}.sense`
  const more = { ...(amp === undefined ? {} : { amp }), roles: ['supply minus'] as const, because }
  const channels = several ? ` of channel ${d.channels.join(' and ')}` : ''
  const all = returnsOf(s, d.supplyName)
  const first = all[0]!
  const together = all.reduce((sum, x) => sum + (throughShunt(s, x) ?? 0), 0)
  if (d.name === first.name)
    list.wire({
      ...more,
      ...(together > 0 ? { amp: together } : {}),
      from: supply,
      fromAt: '−',
      to: shunt,
      toAt: 'supply side',
    })
  else
    list.wire({
      ...more,
      from: shuntPart(list, first),
      fromAt: 'supply side',
      to: shunt,
      toAt: 'supply side',
    })
  list.wire({ ...more, from: shunt, fromAt: 'driver side', to: driver, toAt: `−${channels}` })
}

/** The converter pin meets the shunt, the sensor or the driver's own sense output, over its series resistor. */
export function laySensePin(
  list: WiringList,
  d: DistrictStage,
  name: string,
  at: string,
  brain: string,
  driver: string,
  because: string,
): void {
  const sense = d.district.sense
  let [to, toAt] = [driver, name]
  if (sense?.kind === 'shunt')
    [to, toAt] = isAmplified(sense)
      ? [layAmplifier(list, d, brain), 'output']
      : [shuntPart(list, d), 'sense tap, driver side']
  if (sense?.kind === 'hall') [to, toAt] = [hallPart(list, d), 'output']
  const roles = ['sense'] as const
  const ohm = sense?.series ?? (sense !== undefined && sense.filter > 0 ? USUAL_SERIES_OHM : undefined)
  if (ohm === undefined) list.wire({ from: brain, fromAt: at, to, toAt, roles, because })
  else {
    const series = list.part(
      'resistor',
      `series ${d.name}`,
      `Series resistor of ${d.name}`,
      formatSi(ohm, 'Ohm', 3),
    )
    list.wire({ from: brain, fromAt: at, to: series, toAt: '1', roles, because })
    list.wire({
      from: series,
      fromAt: '2',
      to,
      toAt,
      roles,
      because: `power.districts.${d.name}.sense.series`,
    })
  }
  if (sense !== undefined && sense.filter > 0) {
    const capacitor = list.part(
      'capacitor',
      `filter ${d.name}`,
      `Filter capacitor of ${d.name}`,
      `${formatSi(sense.filter / 1e6 / ohm!, 'F', 3)}`,
    )
    const why = `power.districts.${d.name}.sense.filter`
    list.wire({ from: brain, fromAt: at, to: capacitor, toAt: '1', roles, because: why })
    list.wire({ from: brain, fromAt: 'GND', to: capacitor, toAt: '2', roles: ['ground'], because: why })
  }
  if (sense?.kind === 'mirror') {
    const burden = list.part(
      'resistor',
      `burden ${d.name}`,
      `Sense resistor of ${d.name}`,
      formatSi(sense.resistance ?? 0, 'Ohm', 3),
    )
    const why = `power.districts.${d.name}.sense`
    list.wire({ from: driver, fromAt: name, to: burden, toAt: '1', roles, because: why })
    list.wire({ from: brain, fromAt: 'GND', to: burden, toAt: '2', roles: ['ground'], because: why })
  }
}

/** A shunt in a leg is at a rail, and no pin of the controller may be; a gain needs an amplifier too. */
export function isAmplified({ kind, sees, gain }: SenseDesign): boolean {
  return kind === 'shunt' && (sees === 'one' || gain !== 1)
}

function layAmplifier(list: WiringList, d: DistrictStage, brain: string): string {
  const { gain, sees } = d.district.sense!
  const amplifier = list.part('sense', `amplifier ${d.name}`, `Sense amplifier of ${d.name}`, `gain ${gain}`)
  const shunt = shuntPart(list, d)
  const because = `power.districts.${d.name}.sense.gain`
  const away = sees === 'both' ? 'supply side' : 'track side'
  for (const [tap, toAt] of [
    ['driver side', 'input +'],
    [away, 'input −'],
  ] as const)
    list.wire({
      from: shunt,
      fromAt: `sense tap, ${tap}`,
      to: amplifier,
      toAt,
      roles: ['sense'],
      because,
    })
  list.wire({
    from: brain,
    fromAt: 'logic supply',
    to: amplifier,
    toAt: 'supply',
    roles: ['logic supply'],
    because,
  })
  list.wire({ from: brain, fromAt: 'GND', to: amplifier, toAt: 'ground', roles: ['ground'], because })
  return amplifier
}

export function hallPart(list: WiringList, d: DistrictStage): string {
  return list.part(
    'sense',
    d.name,
    `Hall sensor of ${d.name}`,
    d.district.sense?.sensitivity === undefined
      ? ''
      : `${formatSi(d.district.sense.sensitivity, 'V', 3)} per A`,
  )
}
