/** Profiles: which publisher's standards a station is proved against, in which edition, at which scale. */
import { dependence, Remembered } from '../units/index.js'
import type { Clause, ClauseId, Limits } from './clause.js'
import { buildClauses } from './clauses.data.js'
import { buildRules, type Rule, type RuleId } from './rules.data.js'
import type { Scale } from './scale.js'

export const PROFILES = {
  nmra: {
    title: 'NMRA S-9.x',
    editions: {
      '2020': 'S-9.1:2020, S-9.2:2004, S-9.2.1:2012, S-9.2.3:2012, RP-9.2.4',
      '2006': 'S-9.1:2006, S-9.2:2004, S-9.2.1:2012, S-9.2.3:2012',
    },
    default: '2020',
  },
  rcn: {
    title: 'RailCommunity / NEM',
    editions: {
      '2019': 'RCN-210, RCN-211, RCN-217:2019 where known, else NEM 670:2013 and NEM 671:2014',
      '2013': 'NEM 670:2013, NEM 671:2014',
    },
    default: '2019',
  },
} as const

export type ProfileId = keyof typeof PROFILES

/** What the limits depend on. */
export interface ProfileChoice {
  profile: ProfileId
  /** One of the profile's editions; its default when absent. */
  edition?: string
  scale: Scale
  /** The station makes the bidirectional cut-out, so the preamble must be longer. */
  cutout: boolean
}

export interface Profile extends Required<ProfileChoice> {
  title: string
  /** The documents the edition stands for. */
  documents: string
  clauses: Readonly<Record<ClauseId, Clause>>
  /** Figures that are no limit of one clause; one that the edition does not have is absent. */
  rules: Readonly<Partial<Record<RuleId, Rule>>>
}

/**
 * The clauses as limits for one choice.
 * @throws RangeError naming the editions there are, when the edition is unknown.
 */
export function profileOf(choice: ProfileChoice): Profile {
  const info = PROFILES[choice.profile]
  const edition = choice.edition ?? info.default
  const documents = (info.editions as Record<string, string>)[edition]
  if (documents === undefined) {
    throw new RangeError(
      `profile ${choice.profile} has no edition ${edition}; expected one of ${Object.keys(info.editions).join(', ')}`,
    )
  }
  const full = { ...choice, edition }
  return lastProfiles.get(dependence(full), () => {
    return { ...full, title: info.title, documents, clauses: buildClauses(full), rules: buildRules(full) }
  })
}

/** Asked for many times with the same choice. */
const lastProfiles = new Remembered<Profile>(8)

/** Which kind of packets an output sends: the preamble differs. */
export type OutputMode = 'operations' | 'service'

/** The sender's limits of a clause in a mode of operation. */
export function senderLimits(clause: Clause, mode: OutputMode): Limits {
  return mode === 'service' && clause.inService ? clause.inService : clause.sender
}
