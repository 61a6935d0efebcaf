/**
 * The coupled run: the simulated controller's pins drive the drivers, the drivers feed the districts, decoders hear
 * what is on the rails, and the current comes back through the sense into the converter at the instant it samples.
 * Nothing is stepped but the controller: the electrical side runs ahead of it from change to change.
 */
import {
  type CommandValues,
  commandBytes,
  type SerialByte,
  type SimulatedController,
} from '../../controller/index.js'
import { AccessoryDecoder } from '../decoder/accessory.js'
import type { Decoder, DecoderEvent } from '../decoder/decoder.js'
import { RailNetwork } from '../electrical/network.js'
import type { RailLoad } from '../electrical/parts.js'
import { type Instant, Rails } from '../electrical/rails.js'
import { Ways } from '../trains/ways.js'
import { type BenchAct, checkAct } from './acts.js'
import { AvrController, type BenchController } from './controller.js'
import { DistrictStation } from './district.js'
import { applyAct } from './do-act.js'
import { Protection } from './protection.js'
import { EventQueue } from './queue.js'
import type { BenchSetup } from './setup.js'
import { SteadyRails } from './steady.js'
import { BenchTrain } from './train.js'
import { Wires } from './wires.js'
import { type TrainStop, Yard } from './yard.js'

export type BenchEventKind =
  | 'command'
  | 'answer'
  | 'short'
  | 'driver'
  | 'breaker'
  | 'fuse'
  | 'heat'
  | 'supply'
  | 'decoder'
  | 'train'
  | 'restart'
  | 'fault'

export interface BenchEvent {
  timeUs: number
  kind: BenchEventKind
  /** District, decoder or port. */
  about: string
  sentence: string
  /** Of a driver, breaker, fuse or supply: whether there is power behind it from here on. */
  on?: boolean
}

export interface RunFigures {
  /** Highest current and junction temperature; no temperature where the heat of the driver is not known. */
  districts: { name: string; peakAmp: number; hottestC?: number; limitC?: number }[]
  supplies: { name: string; peakAmp: number; meanAmp: number; limitAmp: number }[]
  stops: readonly TrainStop[]
}

/** Between looks at what the trains draw and where they are, us: momentum changes it slowly. */
const LOOK_EVERY_US = 20e3
/** Changes that are kept of each district, and events of the run. */
export const MOST_EVENTS = 100_000
/** After a change so far at first, us: another one may come soon. */
const FORESEEN_US = 100
/** What an accessory of the design is smoothed by; assumed. */
const ACCESSORY = { farad: 10e-6, ohm: 0.5 }

export class CoupledRun {
  readonly setup: BenchSetup
  readonly events: BenchEvent[] = []
  readonly controller: BenchController
  /** The simulated chip itself, for those who record its edges. */
  readonly machine: SimulatedController
  /** What the firmware said. */
  readonly answers: SerialByte[] = []
  /** Current of each district at every change, A. */
  readonly amps = new Map<string, { timeUs: number; amp: number }[]>()
  /** Voltage between the outputs of each district's driver at every change, V. */
  readonly volts = new Map<string, { timeUs: number; volt: number }[]>()
  /** When each district had power, from the first time on. */
  readonly powered = new Map<string, { timeUs: number; on: boolean }[]>()
  readonly steady = new SteadyRails()
  readonly network: RailNetwork
  readonly rails: Rails
  readonly ways: Ways | undefined
  readonly districts: DistrictStation[]
  readonly trains: BenchTrain[]
  readonly accessories: readonly AccessoryDecoder[]
  /** What is parked on the rails beside the trains, by the name of its act. */
  readonly parked = new Map<string, RailLoad>()
  readonly #queue = new EventQueue()
  readonly #protection: Protection
  readonly yard: Yard
  readonly wires: Wires
  /** Number of the latest change: what was foreseen before it does not come. */
  #version = 0
  #changedUs = 0
  /** It has been told that currents are doubtful. */
  #doubted = false
  /** Time of the next look, us. */
  #lookUs = 0

  constructor(setup: BenchSetup) {
    this.setup = setup
    const avr = new AvrController(setup)
    this.controller = avr
    this.machine = avr.machine
    const { districts, railroad } = setup
    this.network = new RailNetwork(
      districts.map((d) => d.name),
      districts.map((d) => d.farOhm),
      railroad,
    )
    this.rails = new Rails(
      this.network,
      setup.supplies,
      districts.map(({ name, supply, dropVolt, ohm, holdsAmp }) => ({
        district: name,
        supply,
        dropVolt,
        ohm,
        holdsAmp,
      })),
    )
    this.wires = new Wires(this)
    this.ways = railroad && new Ways(railroad.plan)
    this.districts = districts.map(
      (plan, i) => new DistrictStation(plan, i, this.wires.lineOf(plan), this.rails),
    )
    this.trains = setup.decoders.map((plan) => {
      const d = districts.findIndex((district) => district.name === plan.district)
      return new BenchTrain(plan, setup.windows, this.network.extreme(d, 'weakest'), d)
    })
    this.accessories = (setup.accessories ?? []).map((a) => new AccessoryDecoder(a.turnout, a.address))
    this.#protection = new Protection(this)
    this.yard = new Yard(this)
    this.rails.onPassed = (from, to) => this.#passed(from, to)
    for (const { name } of districts) {
      this.amps.set(name, [])
      this.volts.set(name, [])
      this.powered.set(name, [])
    }
    this.wires.connect()
    this.change(0, () => {
      for (const train of this.trains) {
        this.yard.place(train, train.plan.at)
        this.rails.loads.push(...train.loads)
      }
      this.#addAccessories()
    })
    this.#look(LOOK_EVERY_US)
  }

  #addAccessories(): void {
    const { railroad } = this.setup
    railroad?.plan.stands.forEach((s, i) => {
      if (s.train) return
      this.rails.loads.push({
        spot: this.network.stand(i),
        contact: true,
        amp: s.amp,
        ...ACCESSORY,
        volt: 0,
      })
    })
  }

  get nowUs(): number {
    return this.controller.nowUs
  }

  /** From then on currents may be wrong: no state was found that is consistent with all limits. Infinity where one always was. */
  get doubtedUs(): number {
    return this.rails.doubtedUntil(this.nowUs)
  }

  decoder(name: string): Decoder | undefined {
    return this.trains.find((t) => t.plan.name === name)?.decoder
  }

  train(name: string): BenchTrain {
    const found = this.trains.find((t) => t.plan.name === name)
    if (!found) throw new RangeError(`no train "${name}"`)
    return found
  }

  get decoders(): Decoder[] {
    return this.trains.map((t) => t.decoder)
  }

  /** Whether the rails of a district carry power now. */
  isOn(district: string): boolean {
    const d = this.district(district)
    return d.isOn && (this.rails.supplies.find((s) => s.plan.name === d.plan.supply)?.on ?? false)
  }

  district(name: string): DistrictStation {
    const found = this.districts.find((d) => d.plan.name === name)
    if (!found) throw new RangeError(`no district "${name}"`)
    return found
  }

  /** Let something happen at a time of the run. */
  at(timeUs: number, act: () => void): void {
    this.#queue.add(timeUs, act)
    this.controller.stopBy(timeUs)
  }

  /** @returns false where the firmware's language has no word for it. */
  command(command: CommandValues, says: string): boolean {
    const { commands } = this.setup
    const bytes = commands && commandBytes(command, commands)
    if (!bytes) return false
    this.note('command', 'serial line', says)
    return bytes.every((value) => this.controller.receive(commands.port, value))
  }

  /**
   * Let something happen now.
   * @throws InputError where this bench cannot do it: nothing is passed over in silence.
   */
  do(act: BenchAct): void {
    checkAct(act, this.setup)
    applyAct(this, act)
  }

  /** Put something across the rails of a district at its weakest place; Infinity takes it away. */
  short(district: string, ohm: number): void {
    const name = `${district}, weakest place`
    if (ohm !== Number.POSITIVE_INFINITY)
      this.do({ act: 'short', name, at: { district, end: 'weakest' }, ohm })
    else if (this.rails.shorts.has(name)) this.do({ act: 'end-short', name })
  }

  /** The controller starts anew, as when a serial port is opened or a brown-out ends. */
  restart(): void {
    this.do({ act: 'reset' })
  }

  runTo(timeUs: number): void {
    for (;;) {
      this.controller.runTo(Math.min(timeUs, this.#queue.next?.timeUs ?? timeUs))
      // What has come up meanwhile may have ended the run early.
      const next = this.#queue.next
      if (next && next.timeUs <= this.nowUs) this.#queue.take()!.act()
      else if (this.nowUs >= timeUs) break
    }
    for (const t of this.trains) t.decoder.advance(timeUs)
  }

  #look(timeUs: number): void {
    this.#lookUs = timeUs
    this.at(timeUs, () => {
      const now = this.nowUs
      // What is foreseen from here on is due before the next look, not before this one.
      this.#lookUs = timeUs + LOOK_EVERY_US
      this.wires.lasting(now)
      this.yard.look(now)
      this.#analog(now)
      if (this.trains.filter((t) => t.draw()).length > 0) this.change(now)
      else {
        this.#bringUp(now)
        this.rails.forget(now)
        this.#foresee(LOOK_EVERY_US)
      }
      this.#look(timeUs + LOOK_EVERY_US)
    })
  }

  /** Rails whose polarity does not change any more: decoders that may take it as analog power run on it. */
  #analog(timeUs: number): void {
    const powered = this.districts.filter((d) => this.isOn(d.plan.name))
    const steady = this.steady.look(powered, timeUs)
    if (steady.size === 0) return
    for (const train of this.trains) {
      const d = this.districts[train.district]
      const line = d && steady.get(d)
      if (line && train.hasContact) train.decoder.analog(line.level === 1, timeUs)
    }
  }

  /** Something changes: the circuit from then on, and who has power in it. */
  change(timeUs: number, apply?: () => void): void {
    const at = Math.max(timeUs, this.#changedUs)
    this.#changedUs = at
    this.#version++
    this.#bringUp(at)
    this.rails.change(at, () => {
      apply?.()
      for (const t of this.trains) t.draw()
      for (const d of this.districts) this.rails.sources[d.source]!.output = d.output
    })
    this.#log(at, this.rails.points[0]!)
    if (!this.#doubted && this.rails.doubtedUntil(at) <= at) {
      this.#doubted = true
      this.note('fault', 'bench', 'no consistent state of all limits is found: currents may be wrong here')
    }
    for (const [name, list] of this.powered) {
      const on = this.isOn(name)
      if (on !== (list.at(-1)?.on ?? false) && list.length < MOST_EVENTS) list.push({ timeUs: at, on })
    }
    this.#check(at)
  }

  /** Filters know nothing of what was before a change. */
  #bringUp(timeUs: number): void {
    for (const d of this.districts) d.filter?.at(timeUs)
  }

  /** Who has voltage, who draws too much; what of it comes next. */
  #check(timeUs: number): void {
    const version = this.#version
    const moved = this.yard.check(timeUs)
    const opened = this.#protection.check(timeUs)
    if (this.#version !== version) return
    if (moved || opened) this.change(timeUs)
    else this.#foresee()
  }

  /** Be there when a decoder loses its voltage or a breaker's current is passed; looks further ahead the longer nothing changes. */
  #foresee(aheadUs = FORESEEN_US): void {
    const now = Math.max(this.nowUs, this.#changedUs)
    const version = this.#version
    const until = now + Math.min(aheadUs, LOOK_EVERY_US)
    this.rails.ahead(until)
    let next = Number.POSITIVE_INFINITY
    const { points } = this.rails
    for (let i = 1; i < points.length && next === Number.POSITIVE_INFINITY; i++) {
      const [a, b] = [points[i - 1]!, points[i]!]
      if (b.timeUs <= now) continue
      next = Math.min(this.yard.crossing(a, b), this.#protection.crossing(a, b))
    }
    next = Math.min(next, this.#protection.soon(now))
    const last = points.at(-1)!.timeUs
    if (next > Math.min(last, this.#lookUs)) {
      if (last < this.#lookUs)
        this.at(last, () => {
          if (this.#version === version) this.#foresee(4 * aheadUs)
        })
      return
    }
    this.at(Math.max(now, next) + 0.5, () => {
      if (this.#version !== version) return
      this.#bringUp(this.nowUs)
      this.rails.forget(this.nowUs)
      this.#changedUs = Math.max(this.#changedUs, this.nowUs)
      this.#check(this.nowUs)
    })
  }

  #passed(from: Instant, to: Instant): void {
    this.#protection.pass(from, to)
    this.#log(to.timeUs, to)
  }

  #log(timeUs: number, { sourceAmp, portVolt }: Instant): void {
    for (const d of this.districts) {
      // The terminals of the sources are the first ports of the rails.
      const volt = Math.abs(portVolt[d.source]!)
      const volts = this.volts.get(d.plan.name)!
      if (Math.abs((volts.at(-1)?.volt ?? 0) - volt) >= 0.01 && volts.length < MOST_EVENTS)
        volts.push({ timeUs, volt })
      const list = this.amps.get(d.plan.name)!
      const amp = sourceAmp[d.source]!
      const last = list.at(-1)
      if (last && Math.abs(last.amp - amp) < 1e-3) continue
      if (list.length < MOST_EVENTS) list.push({ timeUs, amp })
    }
  }

  /** What drivers, supplies and trains went through until now. */
  figures(): RunFigures {
    return {
      districts: this.districts.map(({ plan, peakAmp, hottestC }) => ({
        name: plan.name,
        peakAmp,
        ...(plan.heat ? { hottestC, limitC: plan.heat.limitC } : {}),
      })),
      supplies: this.#protection.supplies(this.nowUs),
      stops: this.yard.stops,
    }
  }

  note(kind: BenchEventKind, about: string, sentence: string, timeUs = this.nowUs, on?: boolean): void {
    if (this.events.length >= MOST_EVENTS) return
    this.events.push({ timeUs, kind, about, sentence, ...(on === undefined ? {} : { on }) })
  }

  /** All that happened, decoders included, in the order of time. */
  timeline(): BenchEvent[] {
    const own = this.decoders.flatMap((d) =>
      d.events.map((e: DecoderEvent): BenchEvent => {
        return { timeUs: e.timeUs, kind: 'decoder', about: d.name, sentence: e.sentence }
      }),
    )
    return [...this.events, ...own].sort((a, b) => a.timeUs - b.timeUs)
  }
}
