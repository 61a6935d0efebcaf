/** The standard's part of the design file. */
import { shape, type Value } from '../shape/index.js'
import { PROFILES, type ProfileId } from './profile.js'

export const standardShape = shape({
  kind: 'record',
  title: 'standard',
  help: 'Which published standards the station is proved against.',
  keys: {
    profile: {
      kind: 'choice',
      title: 'profile',
      help: 'nmra: the S-9.x standards. rcn: RailCommunity and NEM, where they differ.',
      choices: { nmra: PROFILES.nmra.title, rcn: PROFILES.rcn.title },
      default: 'nmra',
    },
    edition: {
      kind: 'text',
      title: 'edition',
      help: 'Year of the edition; editions disagree about voltage and edge rate. nmra: 2020 or 2006; rcn: 2019 or 2013.',
      optional: true,
      example: '2020',
    },
  },
})

export type StandardDesign = Value<typeof standardShape>

export const requireShape = shape({
  kind: 'list',
  title: 'required evidence',
  help: 'Kinds of evidence that must not be missing: the proof fails for every clause that one of these can show and does not.',
  of: {
    kind: 'choice',
    title: 'origin',
    choices: {
      calculated: 'calculated from the design',
      simulated: 'simulated by running the firmware',
      measured: 'measured on captures',
    },
  },
  optional: true,
  maxItems: 3,
  example: ['simulated'],
})

/** Editions of a profile, for messages. */
export function editionsOf(profile: ProfileId): string[] {
  return Object.keys(PROFILES[profile].editions)
}

export const scaleShape = shape({
  kind: 'choice',
  title: 'scale',
  help: 'Scale of the railroad: decides the voltage window and scale speeds.',
  choices: {
    Z: 'Z, 1:220',
    N: 'N, 1:160',
    TT: 'TT, 1:120',
    H0: 'H0, 1:87',
    S: 'S, 1:64',
    '0': '0, 1:45',
    '1': '1, 1:32',
    G: 'G, 1:22.5',
  },
  default: 'H0',
})
