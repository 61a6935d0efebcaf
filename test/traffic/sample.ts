/** An invented railroad for tests. */
import type {
  FleetDesign,
  OperatorDesign,
  StopDesign,
  TrafficDesign,
  TrafficInput,
} from '../../src/traffic/index.js'

export const LOCOMOTIVE: FleetDesign[string] = {
  address: 3,
  count: 1,
  form: 'auto',
  steps: '128',
  functions: 4,
  acceleration: 0,
  deceleration: 0,
  topSpeed: 1e8 / 3600,
  runOut: 0,
  spread: 0,
  parked: false,
}

export const OPERATOR: OperatorDesign = {
  count: 1,
  via: 'panel',
  knob: 0.2,
  commandsPerTurn: 1,
  commandSpacing: 1e5,
  function: 0.05,
  turnout: 0,
  stop: 0,
}

export const LINK: NonNullable<TrafficDesign['link']> = {
  baud: 19200,
  bitsPerByte: 10,
  commandBytes: 8,
  replyBytes: 2,
  replyAfter: 1000,
  loop: 20e3,
}

export const STOP_AT: StopDesign = {
  kind: 'block',
  length: 900,
  margin: 0,
  brake: 'momentum',
  detector: 2e4,
  scan: 2e4,
  wait: 0,
  rate: 2 / 60,
}

export function railroad(
  fleet: FleetDesign,
  traffic: Partial<TrafficDesign> = {},
  input: Partial<TrafficInput> = {},
): TrafficInput {
  return {
    fleet,
    traffic: { memoryEach: 16, turnouts: 0, lost: 0.05, limit: 250e3, sure: 0.99, seed: 1, ...traffic },
    timing: { oneHalfUs: 58, zeroHalfUs: 100, preamble: 16, cutoutUs: 0 },
    ratio: 87,
    accessoryOffset: 4,
    ...input,
  }
}
