/** Evidence on a driver's ratings and heat, at everything that may flow continuously. */
import {
  type CornerQuestion,
  exactly,
  type Quantities,
  searchCorners,
  type Uncertain,
  type Values,
  within,
} from '../../corner/index.js'
import type { Evidence } from '../../standard/index.js'
import { formatNumber, formatSi } from '../../units/index.js'
import { type CornerClause, cornerEvidence, decision, marginOf, plainFinding } from '../corner-evidence.js'
import type { DistrictModel } from '../district-model.js'
import { driverJunctionC, mountingOf } from '../driver-heat.js'
import { POWER_FINDINGS } from '../findings.data.js'
import type { DriverReport } from '../report.js'
import { strongestAmp } from '../share.js'

const n = formatNumber
const amp = (value: number) => formatSi(value, 'A', 3)

/** Stands for running away in evidence, °C. */
const RUNAWAY_C = 1000

/** What may flow continuously in each district, by name, and the driver's losses and supply. */
function quantitiesOf(models: readonly DistrictModel[]): Quantities {
  const quantities: Record<string, Uncertain> = {}
  for (const { stage, sustained } of models) if (sustained) quantities[`flows ${stage.name}`] = sustained
  const { stage, source } = models[0]!
  quantities['part'] = source?.quantities.part ?? exactly('losses of the driver', 0, '', 'not known')
  quantities['volt'] = within(
    `voltage of supply ${stage.supplyName}`,
    stage.supply.voltage,
    stage.supply.tolerance,
    'V',
    'its tolerance',
  )
  return quantities
}

function flowing(models: readonly DistrictModel[], v: Values): Map<string, number | undefined> {
  return new Map(models.map((m) => [m.stage.name, v[`flows ${m.stage.name}`]]))
}

function flowsText(models: readonly DistrictModel[]): string {
  return models
    .flatMap(({ stage, sustained }) => (sustained ? [`up to ${amp(sustained.high)} in ${stage.name}`] : []))
    .join(' and ')
}

/** The clause of a driver's heat; `undefined` when its figures are not known. */
export function driverHeatClause(
  driver: DriverReport,
  models: readonly DistrictModel[],
): CornerClause | undefined {
  const { watt, junctionMaxC: max, ambientC, junctionC, without } = driver
  if (watt === undefined || junctionC === undefined || max === undefined) return undefined
  const stages = models.map((m) => m.stage)
  const celsius = (v: Values) =>
    driverJunctionC(stages, flowing(models, v), ambientC, {
      part: v['part']!,
      volt: v['volt']!,
      mounting: v['mounting']!,
    }) ?? Number.NaN
  const quantities = { ...quantitiesOf(models), mounting: mountingOf(models[0]!.stage) }
  return {
    clause: 'driver-heat',
    about: driver.name,
    unit: '°C',
    most: RUNAWAY_C,
    figure: celsius,
    question: {
      quantities,
      margin: (v) => (max > ambientC ? Math.max(-1, (max - celsius(v)) / (max - ambientC)) : -1),
      unfavourable: Object.fromEntries(Object.keys(quantities).map((k) => [k, 'high'])),
    },
    finding: ({ best }) =>
      POWER_FINDINGS.find('driver-heat', {
        part: driver.part,
        flows: flowsText(models),
        watt,
        parts: driver.parts.map((p) => `${n(p.watt, 2)} W ${p.what}`).join(', '),
        thermal: driver.thermal ?? 0,
        ambientC,
        lowC: celsius(best.values),
        highC: junctionC,
        maxC: max,
        without: without.length > 0 ? `; without the heat of ${without.join(' and ')}` : '',
      }),
  }
}

export function driverHeatEvidence(driver: DriverReport, models: readonly DistrictModel[]): Evidence[] {
  const clause = driverHeatClause(driver, models)
  if (clause) {
    const e = cornerEvidence(clause)
    // What is met without losses that are not known is not met yet.
    return [e.verdict === 'met' && driver.without.length > 0 ? { ...e, verdict: 'undecided', margin: 0 } : e]
  }
  if (driver.watt === undefined) return []
  const what =
    driver.junctionC === undefined ? 'its thermal resistance to the air' : 'its highest junction temperature'
  return [
    {
      clause: 'driver-heat',
      origin: 'calculated',
      verdict: 'undecided',
      // Anything from the air around it to running away.
      value: { low: driver.ambientC, high: RUNAWAY_C, unit: '°C' },
      margin: 0,
      about: driver.name,
      because: `${driver.part}: the heat of ${n(driver.watt, 3)} W is not judged, as ${what} is not known`,
    },
  ]
}

interface Share {
  share: number
  because: string
  /** It is the supply's voltage that is wrong. */
  isVolt?: true
}

/** What everything on the driver's supply draws at its worst credible load, A. */
function supplyLoadAmp(models: readonly DistrictModel[], all: readonly DistrictModel[]): number {
  const { supplyName } = models[0]!.stage
  const fed = all.filter((m) => m.stage.supplyName === supplyName)
  return fed.reduce((sum, m) => sum + (m.load?.worstAmp ?? 0), 0)
}

/**
 * Every rating of a driver and the share that is used of it.
 * @param loadAmp what its supply gives at the worst credible load
 */
function sharesOf(models: readonly DistrictModel[], v: Values, loadAmp: number): Share[] {
  const shares: Share[] = []
  const { model } = models[0]!.stage
  const { continuousAmp, continuousParallelAmp, peakAmp, supplyMaxVolt, supplyMinVolt } = model
  const groups = new Map<string, { names: string[]; amp: number; channels: number }>()
  for (const { stage } of models) {
    const flows = v[`flows ${stage.name}`]
    if (flows === undefined) continue
    const key = [...stage.channels].sort((a, b) => a - b).join('+')
    const group = groups.get(key) ?? { names: [], amp: 0, channels: stage.channels.length }
    group.names.push(stage.name)
    group.amp += flows
    groups.set(key, group)
  }
  for (const { names, amp: total, channels } of groups.values()) {
    const strongest = strongestAmp(model, channels, total)
    const split = channels > 1 ? `, the strongest of ${channels} channels taking ${amp(strongest)}` : ''
    const what = `${names.join(', ')}: ${amp(total)}${split}`
    if (continuousAmp !== undefined) {
      shares.push({
        share: strongest / continuousAmp,
        because: `${what} of ${amp(continuousAmp)} continuous`,
      })
      if (channels > 1 && continuousParallelAmp !== undefined)
        shares.push({
          share: total / continuousParallelAmp,
          because: `${names.join(', ')}: ${amp(total)} of ${amp(continuousParallelAmp)} for parallel channels`,
        })
    } else if (peakAmp !== undefined)
      shares.push({
        share: strongest / peakAmp,
        because: `${what} of ${amp(peakAmp)} peak (the sheet gives no continuous current: its heat decides)`,
      })
  }
  const supply = v['volt']!
  if (supplyMaxVolt !== undefined && (shares.length > 0 || supply > supplyMaxVolt))
    shares.push({
      share: supply / supplyMaxVolt,
      because: `supply of ${n(supply, 3)} V of ${n(supplyMaxVolt)} V`,
      isVolt: true,
    })
  const sagging = supply - models[0]!.stage.supply.resistance * loadAmp
  if (supplyMinVolt !== undefined && sagging < supplyMinVolt)
    shares.push({
      isVolt: true,
      share: sagging > 0 ? supplyMinVolt / sagging : 1000,
      because:
        supply < supplyMinVolt
          ? `supply of ${n(supply, 3)} V, below the ${n(supplyMinVolt)} V it needs`
          : `supply of ${n(supply, 3)} V, ${n(Math.max(0, sagging), 3)} V at the worst load of ${amp(loadAmp)}, below the ${n(supplyMinVolt)} V it needs`,
    })
  return shares
}

/** A driver without any rating of its current, which does not limit it either. */
function unratedEvidence(
  { name, part }: DriverReport,
  [first]: readonly DistrictModel[],
): Evidence | undefined {
  const { continuousAmp, peakAmp, limitAmp } = first!.stage.model
  if (continuousAmp !== undefined || peakAmp !== undefined || limitAmp !== undefined) return undefined
  const finding = POWER_FINDINGS.find('driver-unrated', { part })
  return {
    clause: 'driver-current',
    origin: 'calculated',
    verdict: 'undecided',
    value: { low: 0, high: 1000, unit: 'share' },
    margin: 0,
    about: name,
    because: finding.sentence,
    finding: plainFinding(finding),
  }
}

/** @param all districts, those on its supply among them */
export function driverCurrentEvidence(
  driver: DriverReport,
  models: readonly DistrictModel[],
  all: readonly DistrictModel[],
): Evidence[] {
  const quantities = quantitiesOf(models)
  const loadAmp = supplyLoadAmp(models, all)
  const worstOf = (v: Values) =>
    sharesOf(models, v, loadAmp).reduce<Share | undefined>(
      (a, b) => (a && a.share >= b.share ? a : b),
      undefined,
    )
  const flows = Object.keys(quantities).filter((k) => k.startsWith('flows '))
  const question: CornerQuestion = {
    quantities,
    margin: (v) => 1 - (worstOf(v)?.share ?? 0),
    // Too high a voltage harms it, too low a one starves it: both ends are tried.
    unfavourable: { ...Object.fromEntries(flows.map((k) => [k, 'high'])), part: 'high' },
  }
  const found = searchCorners(question)
  const worst = worstOf(found.worst.values)
  const unrated = unratedEvidence(driver, models)
  if (unrated && found.verdict !== 'broken') return [unrated]
  if (!worst) return []
  const finding = POWER_FINDINGS.find(worst.isVolt ? 'driver-supply' : 'driver-current', {
    part: driver.part,
    because: worst.because,
  })
  const sentence = finding.sentence + decision(found, question)
  const most = (share: number) => Math.min(share, 1000)
  return [
    {
      clause: 'driver-current',
      origin: 'calculated',
      verdict: found.verdict,
      value: { low: most(worstOf(found.best.values)?.share ?? 0), high: most(worst.share), unit: 'share' },
      margin: marginOf(found.worst.margin),
      about: driver.name,
      because: sentence,
      finding: plainFinding({ ...finding, sentence }),
    },
  ]
}
