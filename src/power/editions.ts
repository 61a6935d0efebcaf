/** The editions side by side: they disagree about the track voltage. */
import {
  type FactStatus,
  PROFILES,
  type ProfileId,
  profileOf,
  rmsCeilingVolt,
  type Scale,
} from '../standard/index.js'
import type { DistrictReport } from './district-report.js'

export interface EditionRow {
  profile: ProfileId
  edition: string
  /** The document that tells the voltages in this edition, and how its text is known: `S-9.1:2020`, `confirmed`. */
  document: string
  status: FactStatus
  district: string
  minVolt?: number
  maxVolt?: number
  rmsCeilingVolt?: number
  /** Lowest under the worst load, highest without, V. */
  lowVolt?: number
  highVolt: number
  /** What is broken; empty when all that could be judged is met. */
  broken: string[]
  /** The voltage under load is not known. */
  partial: boolean
}

/** Every district against every edition's voltage window. */
export function compareEditions(districts: readonly DistrictReport[], scale: Scale): EditionRow[] {
  const rows: EditionRow[] = []
  for (const profile of Object.keys(PROFILES) as ProfileId[]) {
    for (const edition of Object.keys(PROFILES[profile].editions)) {
      const { clauses } = profileOf({ profile, edition, scale, cutout: false })
      const { document, edition: of, status } = clauses['track-voltage-max'].source
      const max = clauses['track-voltage-max'].sender.max
      const min = clauses['track-voltage-min'].sender.min
      const rms = rmsCeilingVolt({ profile, edition, scale })
      for (const d of districts) {
        if (!d.voltage) continue
        const high = d.voltage.highestVolt
        const at = d.voltage.atWorst
        const low = at ? Math.min(at.weakVolt, at.otherVolt) : undefined
        const broken: string[] = []
        if (max !== undefined && high > max) broken.push('peak too high')
        if (rms !== undefined && high > rms) broken.push('RMS too high')
        if (min !== undefined && low !== undefined && low < min) broken.push('too low under load')
        const row: EditionRow = {
          profile,
          edition,
          document: `${document}:${of}`,
          status,
          district: d.name,
          highVolt: high,
          broken,
          partial: low === undefined,
        }
        if (max !== undefined) row.maxVolt = max
        if (min !== undefined) row.minVolt = min
        if (rms !== undefined) row.rmsCeilingVolt = rms
        if (low !== undefined) row.lowVolt = low
        rows.push(row)
      }
    }
  }
  return rows.sort(
    (a, b) =>
      a.district.localeCompare(b.district) ||
      a.profile.localeCompare(b.profile) ||
      b.edition.localeCompare(a.edition),
  )
}
