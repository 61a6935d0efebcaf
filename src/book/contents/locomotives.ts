/** The locomotives that the figures were worked out for, and what their decoders must be set to. */
import { type Figure, inUnit, plain, type Said, said } from './figure.js'
import type { BookSources } from './sources.js'

export interface LocomotiveRow {
  name: string
  address: Said
  /** Where it stands when the figures of the track hold. */
  stands: string
  /** How its decoder is set, as far as the design says. */
  decoder: Said[]
}

/** Long enough for any address. */
const ADDRESS_DIGITS = 5

/** A number as it is, not as a measured one. */
const exactly = (figure: Figure): Figure => ({
  ...figure,
  text: inUnit(figure.value, figure.unit, ADDRESS_DIGITS),
})

/** The address of a locomotive, from the fleet or from the rolling stock. */
export function addressOf({ figures: f }: BookSources, name: string): Figure | undefined {
  const figure =
    f.at('', 'design', 'fleet', name, 'address') ?? f.at('', 'design', 'rollingStock', name, 'address')
  return figure && exactly(figure)
}

export function locomotives(s: BookSources): LocomotiveRow[] {
  const { fleet = {}, rollingStock = {} } = s.loaded.design
  const names = [...new Set([...Object.keys(fleet), ...Object.keys(rollingStock)])]
  return names.map((name): LocomotiveRow => {
    const address = addressOf(s, name)
    const form = fleet[name]?.form
    const section = s.track?.trains.find((t) => t.name === name)?.section
    return {
      name,
      address: address
        ? said`${address}${form === undefined || form === 'auto' ? '' : `, ${form}`}`
        : plain('as set in its decoder'),
      stands: section ?? '',
      decoder: decoderOf(s, name),
    }
  })
}

function decoderOf({ figures: f, loaded }: BookSources, name: string): Said[] {
  const own = loaded.design.fleet?.[name]
  if (!own) return []
  const at = ['design', 'fleet', name] as const
  const list: Said[] = []
  const [up, down] = [f.at('', ...at, 'acceleration'), f.at('', ...at, 'deceleration')]
  if (up && down) list.push(said`acceleration ${exactly(up)} (CV3), deceleration ${exactly(down)} (CV4)`)
  const timeout = f.at('us', ...at, 'timeout')
  if (timeout) {
    const forever = timeout.value === 0
    list.push(
      forever
        ? plain('runs on without packets (CV11)')
        : said`stops ${timeout} after the last packet to it (CV11, as its manual counts)`,
    )
  }
  list.push(
    plain(own.steps === '128' ? 'speed steps of the advanced instruction' : `${own.steps} speed steps`),
  )
  return list
}
