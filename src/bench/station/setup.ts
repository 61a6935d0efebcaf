/** What the coupled bench puts together, made from the design by whoever knows it. */
import type { CommandsDesign, FirmwareImage, SimulatedChip } from '../../controller/index.js'
import type { FuseKind, ThermalModel } from '../../power/index.js'
import type { TrackModel } from '../../track/index.js'
import type { ReceiverWindows } from '../decoder/receiver.js'
import type { SupplyPlan } from '../electrical/parts.js'
import type { Position } from '../trains/motion.js'

export interface BenchOutput {
  name: string
  mode: 'operations' | 'service'
  pin: string
  inverted?: string | undefined
  /** It makes a cut-out after each packet; both pins of the pair at one level for no longer than this are one, us. */
  cutoutUs?: number | undefined
}

/** Inputs of a driver that go to the controller. */
export interface DriverPins {
  direction?: string | undefined
  inverted?: string | undefined
  /** All must be high for the driver to drive. */
  enable: readonly string[]
  /** All must be low. */
  enableLow?: readonly string[]
  /** Any of them high takes the rails off. */
  brake: readonly string[]
  /** What it makes of two inputs that are both low; absent where that is not known, and then as if it joined the rails. */
  bothLow?: 'joined' | 'open' | undefined
  /** What it makes of two inputs that are both high; absent: it joins the rails. `short`: it shorts its supply. */
  bothHigh?: 'joined' | 'open' | 'short' | undefined
  /** An input is tied so that it never drives. */
  neverOn?: boolean
  /** Goes low while the driver protects itself. */
  fault?: string | undefined
  /** What holds a pin that the controller does not drive. */
  pulls?: Readonly<Record<string, 0 | 1>>
}

export interface BenchSense {
  pin: string
  voltPerAmp: number
  zeroVolt: number
  filterUs: number
  /** It sees the current in one polarity only, and its filter does not smooth that. */
  oneSided?: boolean
  /** Of a conversion, V RMS. */
  noiseVolt?: number
}

/** A part that opens after its current is exceeded for so long, and closes again by itself. */
export interface BenchBreaker {
  amp: number
  afterUs: number
  closesUs: number
}

export interface BenchHeat {
  model: ThermalModel
  /** It shuts down there, and starts again 20 K below. */
  limitC: number
  /** Heat of the hottest package at a current of the district and a junction temperature, W. */
  watt(amp: number, junctionC: number): number
}

export interface BenchDistrict {
  name: string
  output: string
  supply: string
  driver: DriverPins
  /** Fixed drop of a bipolar driver, V. */
  dropVolt: number
  /** Driver and sense, Ohm. */
  ohm: number
  /** Where the driver itself holds the current, A; Infinity where it does not. */
  holdsAmp: number
  /** From an edge at its input to the rails, us. */
  delayUs?: number
  /** Wires and rails where the design describes no track, there and back, Ohm. */
  farOhm: number
  sense?: BenchSense | undefined
  breaker?: BenchBreaker | undefined
  /** The driver's own trip. */
  ownTrip?: BenchBreaker | undefined
  fuseAmp?: number | undefined
  fuseKind?: FuseKind | undefined
  heat?: BenchHeat | undefined
  /** Who switches a short off. */
  tripBy: 'sense' | 'breaker' | 'driver' | 'nobody'
}

/** How a decoder acknowledges: more current for so long, so much after it has acted. */
export interface Acknowledgement {
  amp: number
  forUs: number
  afterUs: number
  /** Its motor is switched on and off with this period, on for half of it, us; on throughout where absent. */
  choppedUs?: number
}

export interface BenchDecoder {
  name: string
  /** Where it is at the start, unless `at` says it. */
  district: string
  at?: Position | undefined
  cvs: Readonly<Record<number, number>>
  timeoutUs: number
  /** Highest function that it has; only the first two are tried where it is not known. */
  functions?: number | undefined
  /** Number by which the station commands it. */
  address: number
  /** Standing still, with what is always on, A. */
  idleAmp: number
  /** More at full speed, A. */
  motorAmp: number
  /** More with the motor blocked, A; like a running one when left out. */
  stallAmp?: number | undefined
  /** Its rectifier's capacitor and a stay-alive, F and Ohm. */
  capacitors: readonly { farad: number; ohm: number }[]
  /** Below it the decoder restarts, V. */
  minVolt: number
  acknowledgement: Acknowledgement
  /** How it hears, where not as the setup says. */
  windows?: ReceiverWindows | undefined
  /** At the top step, mm/s; without it the train does not move. */
  topMmPerS?: number | undefined
  /** How far it rolls on from top speed without its motor, mm. */
  runOutMm?: number | undefined
  lengthMm?: number | undefined
  /** Drawn by the last vehicle: lit, or with resistors on its axles, A. */
  tailAmp?: number | undefined
}

/** A decoder that throws a turnout. */
export interface BenchAccessory {
  turnout: string
  /** Output pair by its number on the bus, from 1. */
  address: number
}

export interface BenchSetup {
  chip: SimulatedChip
  clockHz: number
  image: FirmwareImage
  outputs: readonly BenchOutput[]
  districts: readonly BenchDistrict[]
  supplies: readonly SupplyPlan[]
  decoders: readonly BenchDecoder[]
  accessories?: readonly BenchAccessory[] | undefined
  windows: ReceiverWindows
  /** The firmware's language; without it nothing can be commanded. */
  commands?: CommandsDesign | undefined
  /** The port that is commanded, and the rate at which commands come, baud; without it they come at the firmware's own. */
  line?: { port: number; baud: number } | undefined
  /** Within this the design wants commands on the rails, us; without it what a scenario asks for counts. */
  latencyUs?: number | undefined
  /** Of contact of whatever shorts the rails, Ohm. */
  contactOhm: number
  /** The converter's reference is so much higher than it should be, as a share. */
  referenceError?: number | undefined
  /** For noise; the same seed makes the same run. */
  seed?: number | undefined
  /** Wires, rails and what stands there; without it each district is one resistance. */
  railroad?: TrackModel | undefined
  /** Names of what the design describes, for acts: sections and legs of turnouts, turnouts. */
  sections?: readonly string[] | undefined
  turnouts?: readonly string[] | undefined
}
