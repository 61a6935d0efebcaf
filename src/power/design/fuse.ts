/** The design file's keys of a fuse, at a supply and in a district. */
import { figure } from './figure.js'

export const FUSE_KEYS = {
  fuseKind: {
    kind: 'choice',
    title: 'kind of fuse',
    help: 'A resettable one is rated by the current that it holds at 23 °C.',
    choices: {
      glass: 'a time-lag wire that melts, in glass or ceramic (IEC 60127)',
      resettable: 'resettable (polymer PTC)',
    },
    default: 'glass',
  },
  fuseVoltage: {
    ...figure('voltage', 'voltage that the fuse can break', '30 V', { max: 1000 }),
    help: 'Left out: 250 V for glass; a resettable one is sold for 16 to 60 V (from memory).',
  },
} as const

export const fuseBreaking = {
  ...figure('current', 'current that the fuse can break', '1500 A', { max: 1e5 }),
  help: 'Left out: for glass 35 A or ten times its rating (IEC 60127, from memory), for a resettable one 40 A (from memory).',
} as const
