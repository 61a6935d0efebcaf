/** What the coupled bench puts together: plain data, made from the design by whoever knows it. */
import type { CommandsDesign, FirmwareImage, SimulatedChip } from '../../controller/index.js'
import type { ReceiverWindows } from '../decoder/receiver.js'
import type { DistrictElectrics } from '../electrical/circuit.js'

export interface BenchOutput {
  name: string
  mode: 'operations' | 'service'
  pin: string
  inverted?: string | undefined
}

/** Inputs of a driver that go to the controller, each high or low. */
export interface DriverPins {
  direction?: string | undefined
  inverted?: string | undefined
  /** All must be high for the driver to drive. */
  enable: readonly string[]
  /** Any of them high takes the rails off. */
  brake: readonly string[]
}

export interface BenchSense {
  pin: string
  voltPerAmp: number
  zeroVolt: number
  filterUs: number
}

export interface BenchDistrict {
  name: string
  output: string
  driver: DriverPins
  electrics: DistrictElectrics
  /** Wires and rails to the place with the weakest short and back, Ohm. */
  farOhm: number
  sense?: BenchSense | undefined
  /** A breaker of its own: trips after so long above its current. */
  breaker?: { amp: number; afterUs: number } | undefined
  /** Who switches a short off. */
  tripBy: 'sense' | 'breaker' | 'driver' | 'nobody'
}

export interface BenchDecoder {
  name: string
  /** Where it stands. */
  district: string
  cvs: Readonly<Record<number, number>>
  timeoutUs: number
  /** Number by which the station commands it. */
  address: number
  /** Standing still, with what is always on, A. */
  idleAmp: number
  /** More at full speed, A. */
  motorAmp: number
  /** Its rectifier's capacitor and a stay-alive, F and Ohm. */
  capacitors: readonly { farad: number; ohm: number }[]
  /** Below it the decoder restarts, V. */
  minVolt: number
  /** How it acknowledges: more current for so long, so much after it has acted. */
  acknowledgement: { amp: number; forUs: number; afterUs: number }
}

export interface BenchSetup {
  chip: SimulatedChip
  clockHz: number
  image: FirmwareImage
  outputs: readonly BenchOutput[]
  districts: readonly BenchDistrict[]
  decoders: readonly BenchDecoder[]
  windows: ReceiverWindows
  /** The firmware's language; without it nothing can be commanded. */
  commands?: CommandsDesign | undefined
  /** Of contact of whatever shorts the rails, Ohm. */
  contactOhm: number
  /** Names of what the design describes, for acts: sections and legs of turnouts, turnouts, supplies. */
  sections?: readonly string[] | undefined
  turnouts?: readonly string[] | undefined
  supplies?: readonly string[] | undefined
}
