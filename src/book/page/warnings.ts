/** What stands on top of every page made of a design that is not sound: what may not be done with it, and why. */
import type { Hazards } from '../bring-up/hazards.js'

export interface Warning {
  title: string
  lines: string[]
  /** It forbids something; else it only says what is not known. */
  forbids: boolean
}

/** What has to be done first: a clause that is undecided may hold in the station that is built, or not. */
const first = (rows: Hazards['power']) =>
  rows.some((r) => r.verdict === 'broken')
    ? 'Change the design first.'
    : 'Whether it is safe depends on something that the design leaves open: settle that first.'

/** @param where the reasons are, if not on this page */
export function warnings({ power, train, untripped, unknown }: Hazards, where = ''): Warning[] {
  const list: Warning[] = []
  const says = (rows: Hazards['power']) => rows.map((r) => `${r.words}, ${r.verdict}. ${r.because}`)
  if (power.length > 0)
    list.push({
      title: `Do not build this station, and do not switch it on. ${first(power)}`,
      lines: says(power),
      forbids: true,
    })
  if (train.length > 0)
    list.push({
      title: `Put no locomotive on the rails of this station. ${first(train)}`,
      lines: says(train),
      forbids: true,
    })
  if (untripped.length > 0)
    list.push({
      title: 'Nothing in this design switches off a short.',
      lines: untripped.map(
        (name) =>
          `District ${name} has no trip: only its fuse and its supply limit the current into a short there.`,
      ),
      forbids: true,
    })
  if (unknown.length > 0)
    list.push({
      title: 'Not shown to be safe',
      lines: [
        `${unknown.join(', ')}. For the reasons see “What it cannot do, or what nobody has shown”${where}.`,
      ],
      forbids: false,
    })
  return list
}
