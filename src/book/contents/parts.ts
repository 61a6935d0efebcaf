/** The list of parts: what each must be able to do, with the reserve it has, and how many. */
import { CHIPS } from '../../controller/index.js'
import { driverPart, type SupplyDesign } from '../../power/index.js'
import { isAmplified } from '../wiring/sense-wiring.js'
import { mostBehindLimiter } from './behind-limiter.js'
import { inputsOf, pinsBeside } from './driver-terminals.js'
import { type Figure, joined, plain, type Said, said } from './figure.js'
import type { BookSources } from './sources.js'
import { trackParts } from './track-parts.js'

export interface PartRow {
  part: string
  count: number
  /** What it must be able to do. */
  ratings: Said
  for: string
}

/** `label value`, where there is a value. */
function with_(label: string, figure: Figure | undefined, after = ''): Said[] {
  return figure ? [said`${label}${figure}${after}`] : []
}
const listed = (parts: readonly Said[]) => joined(parts, ', ')

/** Parts that must be able to do the same are one row. */
export function partsOf(s: BookSources): PartRow[] {
  const rows = new Map<string, PartRow>()
  for (const row of singleParts(s)) {
    const key = `${row.part}\n${row.ratings.text}`
    const had = rows.get(key)
    rows.set(key, had ? { ...had, count: had.count + row.count, for: `${had.for}, ${row.for}` } : row)
  }
  return [...rows.values()]
}

function singleParts(s: BookSources): PartRow[] {
  const { design } = s.loaded
  const { figures: f } = s
  const { controller, power } = design
  const rows: PartRow[] = [
    {
      part: 'controller board',
      count: 1,
      ratings: listed([
        plain(`with an ${CHIPS[controller.chip].name}`),
        ...with_('', f.at('Hz', 'design', 'controller', 'clock', 'frequency'), ` ${controller.clock.source}`),
      ]),
      for: 'the whole',
    },
  ]
  if (power?.controller?.from !== 'track')
    rows.push({
      part: 'supply of the controller, or a USB cable to it',
      count: 1,
      ratings: plain('as “Supply of the controller” says'),
      for: 'controller',
    })
  if (!power) return [...rows, ...trackParts(s)]
  for (const [name, supply] of Object.entries(power.supplies)) rows.push(...supplyRows(s, name, supply))
  for (const name of Object.keys(power.drivers)) rows.push(...driverRow(s, name))
  for (const name of Object.keys(power.districts)) rows.push(...districtRows(s, name))
  if (power.controller?.from === 'track')
    rows.push({
      part: `regulator, ${power.controller.regulator}`,
      count: 1,
      ratings: listed([
        ...with_('output ', f.at('V', 'design', 'power', 'controller', 'voltage')),
        ...with_('carries ', f.at('A', 'design', 'power', 'controller', 'current')),
      ]),
      for: 'controller',
    })
  for (const run of s.plan?.runs ?? []) {
    const { terminator } = run.design
    if (!terminator) continue
    const at = ['design', 'track', 'bus', run.name, 'terminator'] as const
    rows.push({
      part: 'terminator: a resistor and a capacitor in series',
      count: 1,
      ratings: listed([
        ...with_('', f.at('Ohm', ...at, 'resistance')),
        ...(terminator.power === undefined
          ? [plain('2 W or more (common practice, no source)')]
          : with_('rated ', f.at('W', ...at, 'power'))),
        ...with_(
          '',
          f.at('F', ...at, 'capacitance'),
          ', a film capacitor for at least twice the track voltage',
        ),
      ]),
      for: `bus ${run.name}`,
    })
  }
  return [...rows, ...trackParts(s)]
}

/** What its current limit does, as the calculation takes it. */
const LIMITS: Readonly<Record<SupplyDesign['limit'], string>> = {
  constant: ', and beyond it the supply holds the current',
  foldback: ', and beyond it the supply gives less current the lower its voltage falls',
  hiccup: ', and beyond it the supply switches off and tries again',
  battery: '',
  none: '',
  unknown: ', and how it behaves beyond it is not known',
}

function supplyRows(s: BookSources, name: string, supply: SupplyDesign): PartRow[] {
  const { figures: f } = s
  const at = ['design', 'power', 'supplies', name] as const
  const rows: PartRow[] = [
    {
      part: 'supply, certified, with extra-low output voltage',
      count: 1,
      ratings: listed([
        ...with_('', f.at('V', ...at, 'voltage')),
        ...with_('± ', f.at('share', ...at, 'tolerance')),
        ...with_('rated ', f.at('A', ...at, 'rating')),
        plain('its output isolated from the mains and not earthed'),
        ...with_('its current limit begins at ', f.at('A', ...at, 'limitCurrent'), LIMITS[supply.limit]),
        ...behindLimit(s, name),
        ...with_('worst planned load ', f.at('A', 'power', 'supplies', name, 'worstAmp')),
        ...with_(
          'reserve ',
          f.by('share', 'left of it', ['power', 'supplies', name, 'worstAmp'], [...at, 'rating']),
        ),
      ]),
      for: name,
    },
  ]
  if (supply.fuse !== undefined)
    rows.push({
      part: 'fuse with its holder',
      count: 1,
      ratings: listed([
        ...with_('time-lag, ', f.at('A', ...at, 'fuse')),
        ...with_(
          'for DC of at least ',
          f.by('V', 'plus its tolerance', [...at, 'voltage'], [...at, 'tolerance']),
        ),
      ]),
      for: `supply ${name}`,
    })
  return rows
}

/** For drivers that do not limit a short by themselves. */
function behindLimit({ stages }: BookSources, supply: string): Said[] {
  const most = stages.flatMap((d) => (d.supplyName === supply ? (mostBehindLimiter(d) ?? []) : []))
  return most.length === 0 ? [] : [plain(`behind that limit capacitors of at most ${most[0]}`)]
}

function driverRow(s: BookSources, name: string): PartRow[] {
  const { figures: f } = s
  const model = ['drivers', s.stages.findIndex((d) => d.driverName === name), 'model'] as const
  const stage = s.stages.find((d) => d.driverName === name)
  if (!stage) return []
  const report = ['power', 'drivers', name] as const
  const { cooling } = stage.driver
  return [
    {
      part: `driver, ${stage.model.name === 'custom' ? 'full bridge' : stage.model.name}`,
      count: Math.ceil(
        new Set(s.stages.filter((d) => d.driverName === name).flatMap((d) => d.channels)).size /
          stage.model.bridgesPerPackage,
      ),
      ratings: listed([
        ...with_('supply up to ', f.at('V', ...model, 'supplyMaxVolt')),
        ...with_('continuous ', f.at('A', ...model, 'continuousAmp')),
        ...with_('peak ', f.at('A', ...model, 'peakAmp')),
        ...with_('gives off ', f.at('W', ...report, 'watt')),
        ...with_('its junction reaches ', f.at('°C', ...report, 'junctionC')),
        ...with_('of ', f.at('°C', ...report, 'junctionMaxC'), ' allowed'),
        ...with_(
          'cooled to ',
          f.at('', 'design', 'power', 'drivers', name, 'cooling', 'junctionToAmbient'),
          ' K/W from junction to air or better',
        ),
        ...with_(
          'heat sink of ',
          f.at('', 'design', 'power', 'drivers', name, 'cooling', 'sink'),
          ' K/W or better',
        ),
        ...oneBatch(s, name),
        ...(cooling?.sink === undefined && cooling?.junctionToAmbient === undefined
          ? [plain('cooled as its data sheet’s own board')]
          : []),
        ...(driverPart(stage.model.name)?.ties
          ? [
              plain(
                'on a board, or bare with the resistors and capacitors that the end of this book names for its terminals',
              ),
            ]
          : []),
      ]),
      for: name,
    },
    ...pinsBeside(s, stage).map(
      (p): PartRow => ({
        part: 'gate before the inputs of a driver, unless its board has one',
        count: inputsOf(s, stage),
        ratings: joined(
          [
            plain(`passes the signal only while “${p.name}” is on`),
            ...levelsOf(s, name),
            plain(
              `for the logic levels of the controller${inputsOf(s, stage) > 1 ? ', one for each input' : ''}; the design says no more of it`,
            ),
          ],
          ', ',
        ),
        for: name,
      }),
    ),
  ]
}

/** Where wheels may join drivers over a gap, their delays have to be alike. */
function oneBatch({ stages }: BookSources, name: string): Said[] {
  const own = stages.find((d) => d.driverName === name)
  const batch = own?.driver.batch
  if (batch === undefined) return []
  const alike = stages.filter((d) => d.driver.batch === batch && d.model.name === own!.model.name)
  const names = [...new Set(alike.map((d) => d.driverName))]
  return names.length < 2
    ? []
    : [plain(`those of ${names.join(', ')} out of one batch: wheels across gaps join their outputs`)]
}

/** What the inputs before a driver make of a level, as far as the design says. */
function levelsOf({ figures: f }: BookSources, name: string): Said[] {
  const at = ['design', 'power', 'drivers', name, 'figures'] as const
  const [high, low] = [f.at('V', ...at, 'inputHigh'), f.at('V', ...at, 'inputLow')]
  return high && low ? [said`takes ${high} and more as high, ${low} and less as low`] : []
}

function districtRows(s: BookSources, name: string): PartRow[] {
  const { figures: f } = s
  const district = s.loaded.design.power!.districts[name]!
  const at = ['design', 'power', 'districts', name] as const
  const report = ['power', 'districts', name] as const
  const rows: PartRow[] = []
  const { sense, fuse, trip } = district
  if (fuse !== undefined)
    rows.push({
      part: 'fuse with its holder',
      count: 1,
      ratings: listed([
        ...with_('time-lag, ', f.at('A', ...at, 'fuse')),
        ...with_('for DC of at least ', f.at('V', ...report, 'source', 'highVolt')),
        ...with_('able to break ', f.at('A', ...report, 'fuse', 'breaksAmp')),
        ...with_('a short draws at most ', f.at('A', ...report, 'short', 'amp')),
      ]),
      for: `district ${name}`,
    })
  if (sense && isOwnSensor(s, name)) {
    const kinds = { shunt: 'shunt resistor', mirror: 'sense resistor', hall: 'Hall sensor' } as const
    rows.push({
      part: kinds[sense.kind],
      count: 1,
      ratings: listed([
        ...with_('', f.at('Ohm', ...at, 'sense', 'resistance')),
        ...with_('± ', f.at('share', ...at, 'sense', 'tolerance')),
        ...with_('rated ', f.at('W', ...at, 'sense', 'power')),
        ...(sense.kind === 'shunt'
          ? with_(
              'at most ',
              f.by('W', 'power in a resistance', [...at, 'sense', 'resistance'], [...report, 'sustainedAmp']),
              ' continuously',
            )
          : []),
      ]),
      for: `district ${name}`,
    })
    if (isAmplified(sense))
      rows.push({
        part: 'sense amplifier, differential',
        count: 1,
        ratings: listed([
          ...with_('gain ', f.at('', ...at, 'sense', 'gain')),
          ...with_('supply ', f.at('V', ...at, 'sense', 'amplifierSupply')),
          ...with_('its inputs withstand ', f.at('V', ...at, 'sense', 'amplifierInputMax')),
          ...(sense.sees === 'one'
            ? [plain('its inputs follow a rail, from a little below − to + of the supply')]
            : []),
        ]),
        for: `district ${name}`,
      })
    const series = seriesOf(s, name)
    if (series)
      rows.push({
        part: 'series resistor, before the converter pin',
        count: 1,
        ratings:
          sense.series === undefined
            ? said`${series}, chosen by this book: the design gives a filter only`
            : said`${series}`,
        for: `district ${name}`,
      })
    if (sense.filter > 0)
      rows.push({
        part: 'filter capacitor, from the converter pin to ground',
        count: 1,
        ratings: filterOf(s, name),
        for: `district ${name}`,
      })
  }
  if (trip?.by === 'breaker')
    rows.push({
      part: 'electronic breaker',
      count: 1,
      ratings: listed([
        ...with_('trips at ', f.at('A', ...at, 'trip', 'current')),
        ...with_('after ', f.at('us', ...at, 'trip', 'after')),
        ...with_('for track voltage of either polarity up to ', f.at('V', ...report, 'source', 'highVolt')),
        plain('drawn in wire A; one that switches both wires has wire B through it, too'),
      ]),
      for: `district ${name}`,
    })
  return rows
}

/** A sensor that districts share is in the list once. */
const isOwnSensor = (s: BookSources, name: string) =>
  s.stages.some((d) => d.name === name && d.sensorOf === undefined)

const sensePath = (name: string) => ['design', 'power', 'districts', name, 'sense'] as const

/** The design's resistor before the converter pin, or the usual one where a filter needs one. */
function seriesOf({ figures: f, loaded }: BookSources, name: string): Figure | undefined {
  const sense = loaded.design.power!.districts[name]!.sense!
  if (sense.series !== undefined) return f.at('Ohm', ...sensePath(name), 'series')
  return sense.filter > 0 ? f.at('Ohm', 'usual', 'seriesOhm') : undefined
}

/** Of the filter the design gives the time constant; with the resistor follows the capacitor. */
function filterOf({ figures: f, loaded }: BookSources, name: string): Said {
  const sense = sensePath(name)
  const own = loaded.design.power!.districts[name]!.sense!.series !== undefined
  const capacitor = f.by(
    'F',
    'capacitor of a filter',
    [...sense, 'filter'],
    own ? [...sense, 'series'] : ['usual', 'seriesOhm'],
  )!
  return said`${capacitor}, which with the resistor makes the time constant of ${f.at('us', ...sense, 'filter')!}`
}
