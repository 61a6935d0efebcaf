/**
 * Changes that may mend a clause that is not met, each one key of the design file. They are candidates only: whoever
 * proposes one judges the whole design with it first, and keeps it only if it mends its clause and breaks no other.
 */
import type { Finding } from '../finding/index.js'
import type { ClauseId, Evidence } from '../standard/index.js'
import { formatNumber, formatSi } from '../units/index.js'
import type { PowerDesign } from './design/index.js'
import { resolveDriver } from './driver.js'
import { POWER_FINDINGS } from './findings.data.js'
import { DRIVER_PARTS, type DriverPart } from './parts.data.js'
import type { PowerReport } from './report.js'
import { ONE_SIDED_FILTER_US } from './sense.js'
import { districtsOfDriver } from './stage.js'
import { FUSES, RATINGS } from './supply.js'

export interface Candidate {
  path: (string | number)[]
  /** As it is written in the file. */
  value: string | number
  /** Keys that change with it; one without a value goes. */
  also?: readonly { path: (string | number)[]; value?: string | number }[]
  finding: Finding
  /** The clause it is meant to mend. */
  clause: ClauseId
  about: string
  /** It mends no clause: a trip of `about` then switches off fewer other districts. */
  apart?: true
  /** Of one family only the first that works is proposed: the smallest change comes first. */
  family: string
}

type Add = (
  path: (string | number)[],
  value: string | number,
  now: string | undefined,
  also?: NonNullable<Candidate['also']>,
) => void

const amp = (value: number) => formatSi(value, 'A', 3)

/** Everything that a clause may be mended by goes onto the list through these. */
interface Adding {
  key: Add
  part(driver: string): void
  supply(district: string): void
}

/** Candidates for every clause of the power stage that is broken or undecided, the smallest change first. */
export function powerCandidates(report: PowerReport, power: PowerDesign): Candidate[] {
  const list: Candidate[] = []
  for (const e of report.evidence) {
    if (e.verdict === 'met' || e.about === undefined) continue
    const { clause, about } = e
    const add: Add = (path, value, now, also) => {
      const key = ['power', ...path]
      const beside = (also ?? []).map((c) => `, and ${c.path.join('.')} to ${c.value}`).join('')
      const finding = POWER_FINDINGS.find('change', {
        key: key.join('.'),
        to: value,
        from: now ?? 'not given',
        beside,
      })
      const family = `${clause} ${about} ${key.join('.')}${beside === '' ? '' : ' and more'}`
      list.push({ path: key, value, finding, clause, about, family, ...(also ? { also } : {}) })
    }
    const meant = { clause, about }
    forClause(e, report, power, {
      key: add,
      part: (driver) => list.push(...otherParts(driver, power).map((c) => ({ ...c, ...meant }))),
      supply: (district) => {
        const supplies = otherSupplies(district, report, power)
        const driver = report.districts.find((d) => d.name === district)?.driver ?? ''
        const both = supplies
          .slice(0, 1)
          .flatMap((supply) => otherParts(driver, power).map((part) => together(part, supply)))
        list.push(...[...supplies, ...both].map((c) => ({ ...c, ...meant })))
      },
    })
  }
  return [...list, ...enablesApart(report, power)]
}

/** An enable pin of its own for each driver that a trip of another district switches off too; free pins in turn. */
function enablesApart(report: PowerReport, power: PowerDesign): Candidate[] {
  return report.tripReach.flatMap(({ district, stops, freePins = [] }) => {
    const done = new Set<string>()
    return stops.flatMap(({ district: other, because }, nth) => {
      const driver = report.districts.find((d) => d.name === other)?.driver
      if (because.code !== 'power/shared-enable' || driver === undefined || done.has(driver)) return []
      done.add(driver)
      const from = `${because.params['pin']}`
      const index = (power.drivers[driver]?.pins ?? []).findIndex(
        (p) => p.role === 'enable' && !p.tied && p.wired?.toUpperCase() === from,
      )
      if (index < 0) return []
      const path = ['power', 'drivers', driver, 'pins', index, 'wired']
      const key = path.join('.')
      return freePins.map((_, i): Candidate => {
        const to = freePins[(i + nth) % freePins.length]!
        const finding = POWER_FINDINGS.find('enable-apart', { key, from, to, district, other })
        const family = `apart ${district} ${driver}`
        return { path, value: to, finding, clause: 'short-trip', about: district, apart: true, family }
      })
    })
  })
}

/** How many bridges the districts of a driver use. */
function channelsOf(power: PowerDesign, driver: string): number {
  const used = districtsOfDriver(power, driver).flatMap((d) => d.channels ?? [1])
  return Math.max(1, new Set(used).size)
}

/** A driver of another type in place of it: the weakest first that stands the supply's voltage. */
function otherParts(name: string, power: PowerDesign): Omit<Candidate, 'clause' | 'about'>[] {
  const driver = power.drivers[name]
  const supply = driver && power.supplies[driver.supply ?? Object.keys(power.supplies)[0]!]
  if (!driver || !supply) return []
  const volt = (end: number) => supply.voltage * (1 + end * supply.tolerance)
  const strength = ({ figures: f }: DriverPart) => (f.continuousAmp ?? f.peakAmp ?? f.limitAmp)?.value ?? 0
  const own = resolveDriver(driver).name
  const path = ['power', 'drivers', name]
  const channels = channelsOf(power, name)
  return DRIVER_PARTS.filter(({ name: part, suits, figures }) => {
    const [least, most] = [figures.supplyMinVolt?.value ?? 0, figures.supplyMaxVolt?.value ?? 0]
    return suits === 'yes' && part !== own && volt(-1) >= least && volt(1) <= most
  })
    .sort((a, b) => strength(a) - strength(b))
    .map((part) => ({
      path: [...path, 'part'],
      value: part.name,
      ...(driver.figures ? { also: [{ path: [...path, 'figures'] }] } : {}),
      finding: POWER_FINDINGS.find('other-part', {
        driver: name,
        part: part.name,
        about: part.about,
        from: own,
        bridges: part.bridgesPerPackage,
        channels,
        packages: Math.ceil(channels / part.bridgesPerPackage),
      }),
      family: `${name} part`,
    }))
}

/** Both changes at once, where neither alone is enough. */
function together<C extends Omit<Candidate, 'clause' | 'about'>>(one: C, other: C): C {
  const { path, value, also = [] } = other
  return {
    ...one,
    also: [...(one.also ?? []), { path, value }, ...also],
    finding: POWER_FINDINGS.find('both-changes', {
      one: one.finding.sentence,
      other: other.finding.sentence,
    }),
    family: `${one.family} and ${other.family}`,
  }
}

/** A supply that holds its current in place of one that may give more, or whose limit is not known. */
function otherSupplies(
  district: string,
  report: PowerReport,
  power: PowerDesign,
): Omit<Candidate, 'clause' | 'about'>[] {
  const name = report.districts.find((d) => d.name === district)?.supply
  const own = name === undefined ? undefined : power.supplies[name]
  const needed = report.supplies.find((s) => s.name === name)
  if (name === undefined || !own || !needed || (own.limit === 'constant' && own.limitCurrent !== undefined))
    return []
  const path = ['power', 'supplies', name]
  return RATINGS.filter((rating) => rating >= Math.max(needed.worstAmp, needed.neededToTripAmp ?? 0))
    .slice(0, 4)
    .map((rating) => ({
      path: [...path, 'rating'],
      value: amp(rating),
      also: [
        { path: [...path, 'limit'], value: 'constant' },
        { path: [...path, 'limitCurrent'], value: amp(1.1 * rating) },
      ],
      finding: POWER_FINDINGS.find('other-supply', {
        supply: name,
        ratingAmp: rating,
        limitAmp: 1.1 * rating,
      }),
      family: `${name} supply`,
    }))
}

function forClause(
  e: Evidence,
  report: PowerReport,
  power: PowerDesign,
  { key: add, part, supply }: Adding,
): void {
  const driverOf = (district: string) => report.districts.find((d) => d.name === district)?.driver ?? ''
  const name = e.about!.replace(/, to trip$/, '')
  switch (e.clause) {
    case 'driver-heat':
    case 'driver-current':
      cooler(name, report, power, add)
      for (const d of report.districts.filter((d) => d.driver === name)) lowerTrip(d.name, power, add)
      part(name)
      break
    case 'edge-rate':
      part(name)
      break
    case 'logic-level':
      for (const driver of Object.keys(power.drivers)) part(driver)
      break
    case 'short-trip':
      sooner(name, power, add)
      lowerTrip(name, power, add)
      oneSided(name, power, add)
      closesLater(name, power, add)
      weakerSupply(name, report, power, add)
      part(driverOf(name))
      supply(name)
      break
    case 'supply-current': {
      strongerSupply(name, power, add)
      const by = report.supplies.find((s) => s.name === name)?.neededBy
      if (by !== undefined && e.about !== name) lowerTrip(by, power, add)
      break
    }
    case 'regulator-heat':
      add(['controller', 'regulator'], 'switching', power.controller?.regulator)
      add(['controller', 'from'], 'own', power.controller?.from)
      break
    case 'sense-stress':
      strongerSense(name, power, add)
      break
    case 'inrush':
      later(name, power, add)
      slowerCharge(name, power, add)
      weakerSupply(name, report, power, add)
      part(driverOf(name))
      supply(name)
      break
    case 'fuse':
      for (const fuse of FUSES) add(['districts', name, 'fuse'], amp(fuse), now(power.districts[name]?.fuse))
      add(['districts', name, 'fuseBreaking'], '1500 A', now(power.districts[name]?.fuseBreaking))
      fuseBoth(name, power, add)
      break
    case 'ack-detect': {
      const ack = report.districts.find((d) => d.name === name)?.acknowledgement
      if (ack)
        for (const threshold of [ack.advice.rule.thresholdAmp, 0.03, 0.035, 0.025])
          add(['districts', name, 'acknowledgement', 'threshold'], amp(threshold), amp(ack.rule.thresholdAmp))
      break
    }
    case 'dead-level':
      for (const [driver, { pins = [] }] of Object.entries(power.drivers))
        pins.forEach((pin, i) => {
          if (pin.role !== 'enable' || pin.tied) return
          add(['drivers', driver, 'pins', i, 'pull'], pin.active === 'high' ? 'low' : 'high', pin.pull)
        })
      break
    default:
  }
}

/** A fuse that also breaks more than a glass one: where the supply holds nothing back. */
function fuseBoth(name: string, power: PowerDesign, add: Add): void {
  if (power.districts[name]?.fuseBreaking !== undefined) return
  for (const fuse of FUSES)
    add(['districts', name, 'fuse'], amp(fuse), now(power.districts[name]?.fuse), [
      { path: ['power', 'districts', name, 'fuseBreaking'], value: '1500 A' },
    ])
}

const now = (value: number | undefined) => (value === undefined ? undefined : amp(value))

function cooler(name: string, report: PowerReport, power: PowerDesign, add: Add): void {
  const driver = report.drivers.find((d) => d.name === name)
  if (driver?.thermal === undefined || !power.drivers[name]) return
  for (const share of [0.8, 0.65, 0.5, 0.35])
    add(
      ['drivers', name, 'cooling', 'junctionToAmbient'],
      `${formatNumber(driver.thermal * share, 2)} K/W`,
      `${formatNumber(driver.thermal, 3)} K/W`,
    )
}

function lowerTrip(name: string, power: PowerDesign, add: Add): void {
  const trip = power.districts[name]?.trip
  if (!trip || trip.by === 'driver') return
  for (const share of [0.95, 0.9, 0.85, 0.8, 0.7, 0.6, 0.5])
    add(['districts', name, 'trip', 'current'], amp(trip.current * share), amp(trip.current))
}

function sooner(name: string, power: PowerDesign, add: Add): void {
  const trip = power.districts[name]?.trip
  if (!trip) return
  const at = (key: string) => ['districts', name, 'trip', key]
  if (trip.blanking > 0) {
    const us = (value: number) => `${formatNumber(value, 3)} us`
    for (const share of [0.5, 0.2, 0.1, 0.05, 0])
      add(at('blanking'), us(trip.blanking * share), us(trip.blanking))
  }
  if (trip.by === 'sense')
    for (const share of [0.75, 0.5, 0.25, 0.1]) {
      const samples = Math.max(1, Math.floor(trip.samples * share))
      if (samples < trip.samples) add(at('samples'), samples, `${trip.samples}`)
    }
  else
    for (const share of [0.5, 0.2, 0.1, 0.02])
      add(at('after'), `${formatNumber(trip.after * share, 2)} us`, `${formatNumber(trip.after)} us`)
}

function later(name: string, power: PowerDesign, add: Add): void {
  const trip = power.districts[name]?.trip
  if (!trip) return
  const at = (key: string) => ['districts', name, 'trip', key]
  for (const times of [1.5, 2, 3, 5])
    if (trip.by === 'sense') add(at('samples'), Math.ceil(trip.samples * times), `${trip.samples}`)
    else add(at('after'), `${formatNumber(trip.after * times, 3)} us`, `${formatNumber(trip.after)} us`)
}

/** A sense that sees one polarity only needs a filter over both. */
function oneSided(name: string, power: PowerDesign, add: Add): void {
  const sense = power.districts[name]?.sense
  if (sense?.sees !== 'one' || sense.filter >= ONE_SIDED_FILTER_US) return
  for (const ms of [0.5, 1, 2])
    add(['districts', name, 'sense', 'filter'], `${ms} ms`, `${formatNumber(sense.filter)} us`)
}

function closesLater(name: string, power: PowerDesign, add: Add): void {
  const again = power.districts[name]?.trip?.again
  if (again === undefined) return
  for (const seconds of [1, 2, 5, 10, 60])
    if (seconds * 1e6 > again)
      add(['districts', name, 'trip', 'again'], `${seconds} s`, `${formatNumber(again / 1000)} ms`)
}

/** Larger charging resistors, where the district names its stay-alives itself. */
function slowerCharge(name: string, power: PowerDesign, add: Add): void {
  power.districts[name]?.load?.stayAlive?.forEach(({ resistance }, i) => {
    for (const times of [2, 5, 10])
      add(
        ['districts', name, 'load', 'stayAlive', i, 'resistance'],
        `${formatNumber(resistance * times)} Ohm`,
        `${formatNumber(resistance)} Ohm`,
      )
  })
}

/** A supply that holds its current lower: what a driver, or its trip, has to bear. */
function weakerSupply(name: string, report: PowerReport, power: PowerDesign, add: Add): void {
  const supply = report.districts.find((d) => d.name === name)?.supply
  const own = supply === undefined ? undefined : power.supplies[supply]
  if (!own || supply === undefined || own.limit !== 'constant' || own.limitCurrent === undefined) return
  for (const share of [0.9, 0.8, 0.7, 0.6]) {
    const limit = own.limitCurrent * share
    if (limit >= own.rating) add(['supplies', supply, 'limitCurrent'], amp(limit), amp(own.limitCurrent))
  }
}

function strongerSupply(name: string, power: PowerDesign, add: Add): void {
  const own = power.supplies[name]
  if (!own) return
  for (const rating of RATINGS.filter((r) => r > own.rating).slice(0, 6))
    if (own.limitCurrent === undefined || rating <= own.limitCurrent)
      add(['supplies', name, 'rating'], amp(rating), amp(own.rating))
}

/** Usual powers of resistors, W; common practice, no source. */
const SHUNT_WATTS = [0.25, 0.5, 1, 2, 3, 5, 10, 25]

function strongerSense(name: string, power: PowerDesign, add: Add): void {
  const sense = power.districts[name]?.sense
  if (!sense) return
  const at = (key: string) => ['districts', name, 'sense', key]
  const present = sense.power === undefined ? undefined : `${formatNumber(sense.power)} W`
  for (const watt of SHUNT_WATTS) if (watt > (sense.power ?? 0)) add(at('power'), `${watt} W`, present)
  for (const ohm of ['1 kOhm', '10 kOhm'])
    add(at('series'), ohm, sense.series === undefined ? undefined : `${formatNumber(sense.series)} Ohm`)
}
