/** Which situation is the worst for a clause of the power stage, in words: the one that its statement is about. */
import type { ClauseId, Evidence } from '../standard/index.js'

const BY_CLAUSE: Partial<Record<ClauseId, string>> = {
  'track-voltage-max': 'an empty railroad without load',
  'track-voltage-min': 'the worst planned load, with one locomotive stalled',
  'short-trip': 'a short at the terminals right after switching on, with or without the rest running',
  'sense-stress': 'a short at the terminals, or a continuous current just below the trip',
  inrush: 'everything charging at once, at power-up or again after a trip',
  fuse: 'a short that the fuse has to end alone, and the worst load that it must carry',
  'driver-current': 'a continuous current just below the trip',
  'driver-heat': 'a continuous current just below the trip',
  'supply-current': 'the worst planned load of everything on the supply',
  'ack-detect': 'the weakest and shortest acknowledgement, and a time without one',
  'edge-rate': 'an output without load',
  'pin-current': 'an output pin loaded by every input connected to it',
  'pin-conflict': 'normal operation',
  'regulator-heat': 'the highest voltage at its input, with everything that the controller feeds',
  'dead-level': 'reset, start of the firmware, or flashing',
  'logic-level': 'the controller’s weakest levels at the input’s thresholds',
}

const BY_CODE: Readonly<Record<string, string>> = {
  'power/protection-gap': 'an overload between the trip and a short',
  'power/short-again': 'a lasting short, while the trip closes again and again',
  'power/short-pulse': 'a short at the terminals, with the supply’s output capacitors full',
  'power/supply-trips': 'one district shorted, the rest running',
  'power/no-fuse': 'a short with a trip or a driver that fails',
}

/** By the part of a clause that was found to be worst. */
const BY_WHAT: Readonly<Record<string, Readonly<Record<string, string>>>> = {
  'power/sense-stress': {
    power: 'a continuous current just below the trip',
    pulse: 'a short at the terminals, until it is off',
    pin: 'a short at the terminals, at its first peak',
    clamp: 'a short at the terminals, at its first peak',
    input: 'a short at the terminals, at its first peak',
  },
  'power/fuse': {
    load: 'the worst load that the fuse must carry',
    'supply load': 'the worst load of all districts, which the fuse of their supply must carry',
    opens: 'an overload that the fuse has to end alone',
    wire: 'a short that the fuse has to end alone',
    'unknown wire': 'a short that the fuse has to end alone',
    breaks: 'a short that the fuse has to interrupt',
    limited: 'all that the supply gives, continuously',
  },
}

/** The statement with the situation that decides it. */
export function withSituation(e: Evidence): Evidence {
  const { code = '', params } = e.finding ?? {}
  const situation = BY_WHAT[code]?.[`${params?.['what']}`] ?? BY_CODE[code] ?? BY_CLAUSE[e.clause]
  return situation === undefined ? e : { ...e, situation }
}
