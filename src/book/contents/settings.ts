/** Pins, jumpers, register settings and constants of the firmware, all from the rooms that calculate them. */
import { hasHeader, signalParts } from '../../controller/index.js'
import { profileOfDesign } from '../../design/index.js'
import { type PowerReport, unprotected } from '../../power/index.js'
import { definitionsIn } from '../starter/constants.js'
import { joined, plain, type Said, said } from './figure.js'
import { serialPins } from './firmware.js'
import { CHIP_PACKAGES, type OtherPin } from './package-pins.data.js'
import type { BookSources } from './sources.js'

export interface PinRow {
  pin: string
  goesTo: string
  role: string
  fit: string
  /** Number in each package of the chip that is known, from memory. */
  onChip: string
}

export interface SettingRow {
  output: string
  register: string
  value: string
  says: string
}

export interface ConstantRow {
  name: string
  value: string
  says: string
}

export function pinTable(s: BookSources): PinRow[] {
  const rows = (s.power?.pins.rows ?? []).map(
    (row): PinRow => ({
      pin: row.meets ?? (row.tied === undefined ? 'not connected' : `tied ${row.tied}`),
      goesTo: `${row.driver}: ${row.board}`,
      role: row.role,
      fit: row.conflict === '' ? row.fit : `${row.fit}; ${row.conflict}`,
      onChip: row.meets === undefined ? '' : onChip(s, row.meets),
    }),
  )
  const named = new Set(rows.map((r) => r.pin))
  for (const [name, { pin, inverted }] of Object.entries(s.loaded.design.signal.outputs))
    for (const [p, role] of [
      [pin, 'direction'],
      [inverted, 'inverted'],
    ] as const)
      if (p !== undefined && !named.has(p))
        rows.push({ pin: p, goesTo: `output ${name}`, role, fit: '', onChip: onChip(s, p) })
  rows.push(...serialRows(s, named))
  return [...rows.sort((a, b) => (a.pin < b.pin ? -1 : a.pin > b.pin ? 1 : 0)), ...otherRows(s)]
}

/** The serial line of the design's firmware, or of the starter. */
function serialRows(s: BookSources, named: ReadonlySet<string>): PinRow[] {
  const ways = ['receives', 'sends']
  return serialPins(s).flatMap((pin, i): PinRow[] =>
    named.has(pin)
      ? []
      : [{ pin, goesTo: 'serial line', role: ways[i]!, fit: 'as “Firmware” says', onChip: onChip(s, pin) }],
  )
}

const OTHER_FIT: Readonly<Record<OtherPin, string>> = {
  supply: 'wire all of them, with 100 nF from each to ground',
  ground: 'wire all of them',
  'analog supply': 'wire to the supply, with 100 nF to ground',
  reference: 'leave open, but for 100 nF to ground',
  reset: '10 kOhm to the supply; a button to ground',
  crystal: 'the crystal, and its capacitors to ground as its data sheet says',
}

const RESONATOR_FIT = 'the resonator; one with three pins has its capacitors inside, its middle pin to ground'

/** Pins beside the ports, for those who build with the chip by itself. */
function otherRows({ loaded }: BookSources): PinRow[] {
  const { chip, clock } = loaded.design.controller
  const packages = CHIP_PACKAGES[chip] ?? []
  if (packages.length === 0) return []
  return (Object.keys(OTHER_FIT) as OtherPin[])
    .filter((name) => name !== 'crystal' || clock.source === 'crystal' || clock.source === 'resonator')
    .map((name) => ({
      pin: name === 'crystal' ? clock.source : name,
      goesTo: 'bare chip only',
      role: '',
      fit: name === 'crystal' && clock.source === 'resonator' ? RESONATOR_FIT : OTHER_FIT[name],
      onChip: packages.map((p) => `${p.others[name].join(', ')} (${p.package})`).join('; '),
    }))
}

function onChip({ loaded }: BookSources, pin: string): string {
  const packages = CHIP_PACKAGES[loaded.design.controller.chip] ?? []
  return packages
    .flatMap((p) => (Object.hasOwn(p.pins, pin) ? [`${p.pins[pin]} (${p.package})`] : []))
    .join(', ')
}

/** What is to be fitted, bent out or tied; nothing where the boards need nothing. */
export function jumpers(s: BookSources): string[] {
  const rows = s.power?.pins.rows ?? []
  return rows
    .filter((r) => r.fit !== '' && !r.fit.startsWith('wire '))
    .map((r) => `${r.driver}, ${r.board}: ${r.fit}`)
}

export function settings(s: BookSources): SettingRow[] {
  return [...s.timers].flatMap(([output, { option }]) =>
    (option?.settings ?? []).map(({ register, value, says }) => ({ output, register, value, says })),
  )
}

/** All figures of the header that the starter firmware of this design has; those of the signal where there can be none. */
export function constants(s: BookSources): readonly ConstantRow[] {
  return s.starter?.constants ?? signalConstants(s)
}

function signalConstants(s: BookSources): ConstantRow[] {
  const { controller } = s.loaded.design
  return [...s.timers].flatMap(([track, { option }]) => {
    if (!option || option.refused !== undefined || !hasHeader(option)) return []
    const { figures } = signalParts({
      chip: controller.chip,
      clockHz: controller.clock.frequency,
      option,
      track,
      prefix: `${track.toLowerCase().replace(/[^a-z0-9]+/g, '_')}_signal`,
      clauses: profileOfDesign(s.loaded, s.loaded.design.signal.outputs[track]!.cutout).clauses,
    })
    return definitionsIn(figures)
  })
}

/** How each district is protected, as the firmware or the part must be set. */
export function protectionSettings(s: BookSources): Said[] {
  return [...(s.power?.districts ?? []).flatMap((d) => protectionOf(s, d)), ...switchedTogether(s)]
}

function protectionOf({ figures: f }: BookSources, d: PowerReport['districts'][number]): Said[] {
  const { trip } = d
  if (!trip) return []
  const at = ['power', 'districts', d.name, 'trip'] as const
  const own = ['design', 'power', 'districts', d.name, 'trip'] as const
  const nominal = f.at('A', ...at, 'nominalAmp')
  const [low, high] = [f.at('A', ...at, 'lowAmp'), f.at('A', ...at, 'highAmp')]
  if (!nominal || !low || !high || !Number.isFinite(high.value)) return []
  const by = { sense: 'the firmware', breaker: 'its breaker', driver: 'the driver itself' }[trip.by]
  const parts = [
    said`${`District ${d.name}: ${by} trips at `}${nominal}, with all tolerances between ${low} and ${high}`,
  ]
  const count = f.at('', ...at, 'count')
  if (count) parts.push(said`its count is ${count} or more`)
  const samples = f.at('', ...own, 'samples')
  const rate = f.at('Hz', 'design', 'power', 'districts', d.name, 'sense', 'rate')
  if (samples && trip.by === 'sense')
    parts.push(rate ? said`${samples} samples in a row, taken at ${rate}` : said`${samples} samples in a row`)
  const after = f.at('us', ...own, 'after')
  if (after) parts.push(said`then off within ${after}`)
  const ack = ['design', 'power', 'districts', d.name, 'acknowledgement'] as const
  const threshold = f.at('A', ...ack, 'threshold')
  if (threshold) parts.push(said`an acknowledgement is a rise of ${threshold}`)
  return [joined(parts, '; ')]
}

/** Drivers on one pin go off together: a short of one stops the trains of all. */
function switchedTogether({ power, stages }: BookSources): Said[] {
  const byPin = new Map<string, Set<string>>()
  for (const { role, meets, driver } of power?.pins.rows ?? [])
    if (role === 'enable' && meets !== undefined)
      byPin.set(meets, (byPin.get(meets) ?? new Set()).add(driver))
  return [...byPin].flatMap(([pin, drivers]) => {
    const districts = stages.filter((d) => drivers.has(d.driverName))
    const tripped = districts.filter((d) => d.district.trip?.by === 'sense')
    if (drivers.size < 2 || tripped.length === 0) return []
    const names = (list: typeof districts) => list.map((d) => d.name).join(', ')
    return [
      plain(
        `${pin} switches the drivers ${[...drivers].join(', ')} together: when the firmware trips for ${names(tripped)}, the track goes off in ${names(districts)}`,
      ),
    ]
  })
}

/** Single faults of the power stage with which protection does not hold for certain: reasons for a fuse or a lower limit. */
export function singleFaults({ power, figures: f }: BookSources): Said[] {
  const faults = power?.faults ?? []
  return unprotected(faults).flatMap((group): Said[] => {
    const [first] = group
    const at = ['power', 'faults', faults.indexOf(first!)] as const
    const what = group.map((fault) => fault.words).join('; ')
    const [amp, us] = [f.at('A', ...at, 'toAmp'), f.at('us', ...at, 'survivesUs')]
    const { holds, district, part } = first!
    const verdict = `protection ${holds === 'no' ? 'does' : 'may'} not hold in district ${district}`
    if (!amp || !us || part === undefined) return [plain(`${what}: ${verdict}, as figures are missing`)]
    const kind = part.split(',')[0]!
    return [
      us.value > 0
        ? said`${what}: ${verdict}. Nothing ends up to ${amp} soon enough: the ${kind} survives ${us}`
        : said`${what}: ${verdict}. Nothing ends up to ${amp} soon enough: the ${kind} does not survive that`,
    ]
  })
}
