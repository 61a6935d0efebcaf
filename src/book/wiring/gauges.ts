/** Wire sizes and colours of the wiring list. */
import { copperAmpacity, type PowerDesign } from '../../power/index.js'
import { wireConductor } from '../../track/index.js'
import type { BookSources } from '../contents/sources.js'
import type { Connection, Wiring } from './connections.js'

/** Sizes of hook-up wire: IEC 60228 nominal cross-sections and usual gauges, mm2. */
const SIZES: readonly { wire: string; areaMm2: number }[] = [
  { wire: '0.25 mm2', areaMm2: 0.25 },
  { wire: '0.5 mm2', areaMm2: 0.5 },
  { wire: '0.75 mm2', areaMm2: 0.75 },
  { wire: '1 mm2', areaMm2: 1 },
  { wire: '1.5 mm2', areaMm2: 1.5 },
  { wire: '2.5 mm2', areaMm2: 2.5 },
  { wire: '4 mm2', areaMm2: 4 },
  { wire: '6 mm2', areaMm2: 6 },
  { wire: '10 mm2', areaMm2: 10 },
  { wire: '16 mm2', areaMm2: 16 },
]
/** A lead in a warm case carries this share of what it would in open air; common practice, no source. */
const IN_A_CASE = 0.5

export interface WireRow extends Connection {
  wire: string
  /** One way, mm. */
  lengthMm: number
  /** The book's own choice; otherwise the design's. */
  chosen: boolean
  colours: readonly string[]
}

/** The smallest usual wire that carries a current continuously inside a case. */
export function leadFor(amp: number | undefined): string {
  const fits = SIZES.find(({ areaMm2 }) => IN_A_CASE * copperAmpacity(areaMm2) >= (amp ?? 0))
  return (fits ?? SIZES.at(-1)!).wire
}

export function wireRows(wiring: Wiring, { options, loaded }: BookSources): WireRow[] {
  return wiring.connections.map((c): WireRow => {
    const colours = c.roles.map((role) => options.colours[role])
    if (c.wire !== undefined && c.lengthMm !== undefined)
      return { ...c, wire: c.wire, lengthMm: c.lengthMm, chosen: false, colours }
    // What a fuse lets through continuously, or what the supply gives, counts where it is more.
    const amp = c.amp === undefined ? undefined : Math.max(c.amp, protectedAmp(c, loaded.design.power))
    return { ...c, wire: leadFor(amp), lengthMm: options.leadMm, chosen: true, colours }
  })
}

/** A run as it is bought: metres of every size and colour. */
export interface WireOrder {
  wire: string
  colour: string
  metres: number
}

export function wireOrders(rows: readonly WireRow[]): WireOrder[] {
  const orders = new Map<string, WireOrder>()
  for (const row of rows)
    for (const colour of row.colours) {
      const key = `${row.wire}, ${colour}`
      const order = orders.get(key) ?? { wire: row.wire, colour, metres: 0 }
      orders.set(key, order)
      order.metres += row.lengthMm / 1000
    }
  return [...orders.values()].sort(
    (a, b) => areaOf(b.wire) - areaOf(a.wire) || (a.colour < b.colour ? -1 : 1),
  )
}

const areaOf = (wire: string) => wireConductor(wire).areaMm2

/** What protects a lead against overload: the fuse of its district, or that of the supply, or the supply's own limit. */
function protectedAmp(c: Connection, power: PowerDesign | undefined): number {
  const [, part, name = ''] = /^power\.(districts|drivers|supplies)\.([^.]+)/.exec(c.because) ?? []
  if (!power || part === undefined) return 0
  const district = part === 'districts' ? power.districts[name] : undefined
  const isReturn = c.roles.includes('supply minus')
  if (district?.fuse !== undefined && !isReturn) return district.fuse
  const drivers = Object.keys(power.drivers)
  const driver = part === 'drivers' ? name : (district?.driver ?? drivers[0]!)
  const supplies = Object.keys(power.supplies)
  const supply = power.supplies[part === 'supplies' ? name : (power.drivers[driver]?.supply ?? supplies[0]!)]
  return supply?.fuse ?? supply?.limitCurrent ?? supply?.rating ?? 0
}
