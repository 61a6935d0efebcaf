/**
 * The coupled run: the simulated controller's pins drive the drivers, the drivers feed the districts, decoders hear
 * what is on the rails, and the current comes back through the sense into the converter at the instant it samples.
 * Everything between two events is a closed form, so nothing is stepped but the controller itself.
 */
import {
  type CommandValues,
  commandBytes,
  type SerialByte,
  SimulatedController,
} from '../../controller/index.js'
import { InputError } from '../../units/index.js'
import { Decoder, type DecoderEvent } from '../decoder/decoder.js'
import { Receiver } from '../decoder/receiver.js'
import { DistrictCircuit } from '../electrical/circuit.js'
import { SenseFilter } from '../electrical/sense-filter.js'
import { type BenchAct, checkAct, placeWords } from './acts.js'
import type { BenchDecoder, BenchDistrict, BenchSetup } from './setup.js'

export type BenchEventKind = 'command' | 'answer' | 'short' | 'driver' | 'breaker' | 'decoder' | 'restart'

export interface BenchEvent {
  timeUs: number
  kind: BenchEventKind
  /** District, decoder or port. */
  about: string
  sentence: string
  /** Of a driver or breaker: whether the district has power from here on. */
  on?: boolean
}

interface Standing {
  plan: BenchDecoder
  decoder: Decoder
  acknowledging: number
  /** When its capacitors give out, us; Infinity while the rails feed it. */
  browsOutUs: number
}

interface District {
  plan: BenchDistrict
  circuit: DistrictCircuit
  filter: SenseFilter | undefined
  receiver: Receiver
  standing: Standing[]
  driverOn: boolean
  breakerOpen: boolean
  level: 0 | 1 | undefined
  /** The inputs of a pair are equal since then, us; Infinity while they differ. */
  equalSinceUs: number
  overUs: number
}

/** Between looks at what the trains draw, us: momentum changes it slowly. */
const LOAD_EVERY_US = 20e3
/** A breaker closes again so long after it has opened. Common practice, no source: most try again within seconds. */
const BREAKER_CLOSES_US = 2e6
/** Two inputs of a driver may be equal for as long in passing, us: software that turns both takes less. */
const PAIR_US = 10
const MOST_EVENTS = 100_000

export class CoupledRun {
  readonly events: BenchEvent[] = []
  readonly machine: SimulatedController
  /** What the firmware said. */
  readonly answers: SerialByte[] = []
  /** Current of each district at every change, A. */
  readonly amps = new Map<string, { timeUs: number; amp: number }[]>()
  readonly #setup: BenchSetup
  readonly #districts: District[]
  readonly #queue: { timeUs: number; order: number; act: () => void }[] = []
  #order = 0
  readonly #shorts = new Map<string, { district: string; ohm: number }>()

  constructor(setup: BenchSetup) {
    this.#setup = setup
    this.machine = new SimulatedController(setup.chip, setup.clockHz, setup.image, {})
    this.#districts = setup.districts.map((plan) => this.#build(plan))
    const port = this.machine.serial(setup.commands?.port ?? 0)
    if (port) port.onSent = (value, at) => this.answers.push({ value, timeUs: this.machine.usAtCycle(at) })
    this.machine.adc.source = (channel, at) => this.#voltAt(channel, this.machine.usAtCycle(at))
    this.#every(LOAD_EVERY_US, () => {
      for (const d of this.#districts) {
        this.#lasting(d, this.nowUs)
        this.#settle(d, this.nowUs)
      }
    })
  }

  get nowUs(): number {
    return this.machine.usAtCycle(this.machine.now)
  }

  decoder(name: string): Decoder | undefined {
    for (const d of this.#districts) for (const s of d.standing) if (s.plan.name === name) return s.decoder
    return undefined
  }

  get decoders(): Decoder[] {
    return this.#districts.flatMap((d) => d.standing.map((s) => s.decoder))
  }

  /** Whether the rails of a district carry power now. */
  isOn(district: string): boolean {
    return this.#district(district).circuit.isOn
  }

  /** Let something happen at a time of the run. */
  at(timeUs: number, act: () => void): void {
    this.#queue.push({ timeUs, order: this.#order++, act })
    this.#queue.sort((a, b) => a.timeUs - b.timeUs || a.order - b.order)
    this.machine.stopBy(this.#tick(timeUs))
  }

  #tick(timeUs: number): number {
    return Math.max(0, Math.ceil((timeUs * this.#setup.clockHz) / 1e6))
  }

  /** @returns false where the firmware's language has no word for it. */
  command(command: CommandValues, says: string): boolean {
    const { commands } = this.#setup
    const bytes = commands && commandBytes(command, commands)
    const port = this.machine.serial(commands?.port ?? 0)
    if (!bytes || !port) return false
    for (const value of bytes) port.receive(value, this.machine.now)
    this.#note('command', 'serial line', says)
    return true
  }

  /**
   * Let something happen now.
   * @throws InputError where this bench cannot do it: nothing is passed over in silence.
   */
  do(act: BenchAct): void {
    checkAct(act, this.#setup)
    switch (act.act) {
      case 'say': {
        const port = this.machine.serial(act.port ?? this.#setup.commands?.port ?? 0)
        if (!port) throw new InputError(`the controller has no serial port ${act.port ?? 0}`)
        for (const c of act.text) port.receive(c.charCodeAt(0), this.machine.now)
        this.#note('command', 'serial line', act.text.trim())
        return
      }
      case 'command':
        this.command(act.command, act.command.kind)
        return
      case 'short': {
        const { at } = act
        if (!('district' in at) || at.end !== 'weakest') break
        this.#shorts.set(act.name, { district: at.district, ohm: act.ohm })
        this.short(at.district, this.#shortOhm(at.district))
        return
      }
      case 'end-short': {
        const ended = this.#shorts.get(act.name)
        if (!ended) throw new InputError(`there is no short "${act.name}" to end`)
        this.#shorts.delete(act.name)
        this.short(ended.district, this.#shortOhm(ended.district))
        return
      }
      case 'reset':
        this.restart()
        return
      default:
    }
    const where = 'at' in act ? ` (${placeWords(act.at)})` : ''
    throw new InputError(`this bench cannot do "${act.act}"${where} yet`)
  }

  /** All shorts of a district in parallel; Infinity without one. */
  #shortOhm(district: string): number {
    let siemens = 0
    for (const s of this.#shorts.values()) if (s.district === district) siemens += 1 / Math.max(s.ohm, 1e-6)
    return 1 / siemens
  }

  /** Put something across the rails of a district at its weakest place; Infinity takes it away. */
  short(district: string, ohm: number): void {
    const d = this.#district(district)
    const none = ohm === Number.POSITIVE_INFINITY
    this.#note('short', district, none ? 'the short is gone' : `a short of ${ohm} Ohm at the weakest place`)
    this.#settle(d, this.nowUs, { shortOhm: none ? ohm : ohm + d.plan.farOhm })
  }

  /** The controller starts anew, as when a serial port is opened or a brown-out ends. */
  restart(): void {
    this.#note('restart', 'controller', 'the controller is reset')
    this.machine.askReset('external', true)
  }

  runTo(timeUs: number): void {
    for (;;) {
      this.machine.runTo(this.#tick(Math.min(timeUs, this.#queue[0]?.timeUs ?? timeUs)))
      // What has come up meanwhile may have ended the run early.
      const next = this.#queue[0]
      if (next && next.timeUs <= this.nowUs) {
        this.#queue.shift()
        next.act()
      } else if (this.nowUs >= timeUs) break
    }
    for (const d of this.#districts) for (const s of d.standing) s.decoder.advance(timeUs)
  }

  #every(us: number, act: () => void): void {
    const again = (timeUs: number) =>
      this.at(timeUs, () => {
        act()
        again(timeUs + us)
      })
    again(us)
  }

  #district(name: string): District {
    const found = this.#districts.find((d) => d.plan.name === name)
    if (!found) throw new RangeError(`no district "${name}"`)
    return found
  }

  #build(plan: BenchDistrict): District {
    const circuit = new DistrictCircuit(plan.electrics)
    const district: District = {
      plan,
      circuit,
      filter: plan.sense && new SenseFilter(circuit, plan.sense.filterUs),
      receiver: new Receiver(this.#setup.windows, (bytes, endUs) => {
        for (const s of district.standing) if (s.decoder.isPowered) s.decoder.packet(bytes, endUs)
      }),
      standing: [],
      driverOn: false,
      breakerOpen: false,
      level: undefined,
      equalSinceUs: Number.POSITIVE_INFINITY,
      overUs: Number.POSITIVE_INFINITY,
    }
    for (const decoder of this.#setup.decoders)
      if (decoder.district === plan.name) district.standing.push(this.#stand(decoder, district))
    this.amps.set(plan.name, [])
    const { direction, inverted, enable, brake } = plan.driver
    const pins = [direction, inverted, ...enable, ...brake].filter((p) => p !== undefined)
    const levels = new Map<string, number>()
    const look = (pin: string, level: 0 | 1, at: number) => {
      levels.set(pin, level)
      this.#drive(district, levels, this.machine.usAtCycle(at))
    }
    for (const pin of new Set(pins)) {
      levels.set(pin, 0)
      this.machine.listen(pin, (level, at) => look(pin, level, at))
    }
    return district
  }

  #stand(plan: BenchDecoder, district: District): Standing {
    const decoder = new Decoder({
      name: plan.name,
      cvs: plan.cvs,
      windows: this.#setup.windows,
      timeoutUs: plan.timeoutUs,
    })
    const standing: Standing = { plan, decoder, acknowledging: 0, browsOutUs: Number.POSITIVE_INFINITY }
    for (const c of plan.capacitors) district.circuit.capacitors.push({ ...c, volt: 0 })
    decoder.onAcknowledge = (_, timeUs) => {
      const { afterUs, forUs } = plan.acknowledgement
      this.at(timeUs + afterUs, () => {
        standing.acknowledging++
        this.#settle(district, this.nowUs)
      })
      this.at(timeUs + afterUs + forUs, () => {
        standing.acknowledging--
        this.#settle(district, this.nowUs)
      })
    }
    return standing
  }

  /** What the driver makes of its inputs. */
  #drive(d: District, levels: ReadonlyMap<string, number>, timeUs: number): void {
    const { direction, inverted, enable, brake } = d.plan.driver
    const level = direction === undefined ? undefined : (levels.get(direction) as 0 | 1)
    const opposed = inverted === undefined || level !== levels.get(inverted)
    const on =
      level !== undefined &&
      opposed &&
      enable.every((pin) => levels.get(pin) === 1) &&
      brake.every((pin) => levels.get(pin) === 0)
    this.#lasting(d, timeUs)
    // Of a pair the levels change one after the other, a few cycles apart: only what lasts is a switching off.
    if (!on && inverted !== undefined && d.driverOn) {
      d.equalSinceUs = Math.min(d.equalSinceUs, timeUs)
      return
    }
    d.equalSinceUs = Number.POSITIVE_INFINITY
    if (on !== d.driverOn) this.#switch(d, on, timeUs)
    if (!on || level === d.level) return
    d.level = level
    if (d.circuit.isOn) d.receiver.edge(timeUs)
  }

  /** Inputs of a pair that have been equal for a while have switched the driver off when they became so. */
  #lasting(d: District, timeUs: number): void {
    if (timeUs - d.equalSinceUs < PAIR_US) return
    const sinceUs = d.equalSinceUs
    d.equalSinceUs = Number.POSITIVE_INFINITY
    this.#switch(d, false, sinceUs)
  }

  #switch(d: District, on: boolean, timeUs: number): void {
    d.driverOn = on
    this.#note(
      'driver',
      d.plan.name,
      on ? 'the driver is switched on' : 'the driver is switched off',
      timeUs,
      on,
    )
    this.#settle(d, timeUs, { on: on && !d.breakerOpen })
  }

  /** Something has changed: the circuit, and who has power in it. */
  #settle(d: District, timeUs: number, change: { on?: boolean; shortOhm?: number } = {}): void {
    const { circuit } = d
    d.filter?.advance(timeUs)
    let loadAmp = 0
    for (const s of d.standing) {
      s.decoder.advance(timeUs)
      if (!s.decoder.isPowered) continue
      const motor = s.plan.motorAmp * s.decoder.cvs.motorShare(s.decoder.speed)
      loadAmp += s.plan.idleAmp + motor + s.acknowledging * s.plan.acknowledgement.amp
    }
    const was = circuit.isOn
    circuit.set(timeUs, { ...change, loadAmp })
    if (was && !circuit.isOn) d.receiver.off()
    this.#power(d, timeUs)
    this.#breaker(d, timeUs)
    const list = this.amps.get(d.plan.name)!
    if (list.length < MOST_EVENTS)
      for (const s of circuit.segments) list.push({ timeUs: s.fromUs, amp: circuit.ampAt(s.fromUs) })
  }

  #power(d: District, timeUs: number): void {
    for (const s of d.standing) {
      const fed = d.circuit.isOn && d.circuit.settledVolt >= s.plan.minVolt
      if (fed) {
        s.browsOutUs = Number.POSITIVE_INFINITY
        if (!s.decoder.isPowered) {
          s.decoder.power(true, timeUs)
          this.at(timeUs, () => this.#settle(d, this.nowUs))
        }
        continue
      }
      if (!s.decoder.isPowered || s.browsOutUs !== Number.POSITIVE_INFINITY) continue
      s.browsOutUs = timeUs + this.#holdsUs(s)
      this.at(s.browsOutUs, () => {
        if (s.browsOutUs > this.nowUs + 1) return
        s.browsOutUs = Number.POSITIVE_INFINITY
        s.decoder.power(false, this.nowUs)
        this.#settle(d, this.nowUs)
      })
    }
  }

  /** How long a decoder lives on its capacitors: t = C·ΔU / I, us. */
  #holdsUs({ plan, decoder }: Standing): number {
    const farad = plan.capacitors.reduce((sum, c) => sum + c.farad, 0)
    const amp = plan.idleAmp + plan.motorAmp * decoder.cvs.motorShare(decoder.speed)
    return (farad * plan.minVolt * 1e6) / Math.max(1e-3, amp)
  }

  #breaker(d: District, timeUs: number): void {
    const { breaker, name } = d.plan
    if (!breaker) return
    const over = d.circuit.isOn && d.circuit.settledAmp > breaker.amp
    if (!over) {
      d.overUs = Number.POSITIVE_INFINITY
      return
    }
    if (d.overUs !== Number.POSITIVE_INFINITY) return
    d.overUs = timeUs
    this.at(timeUs + breaker.afterUs, () => {
      if (d.overUs !== timeUs) return
      d.breakerOpen = true
      d.overUs = Number.POSITIVE_INFINITY
      this.#note('breaker', name, 'the breaker opens', this.nowUs, false)
      this.#settle(d, this.nowUs, { on: false })
      this.at(this.nowUs + BREAKER_CLOSES_US, () => {
        d.breakerOpen = false
        this.#note('breaker', name, 'the breaker closes', this.nowUs, d.driverOn)
        this.#settle(d, this.nowUs, { on: d.driverOn })
      })
    })
  }

  /** What the converter sees at one of its channels. */
  #voltAt(channel: number, timeUs: number): number | undefined {
    for (const d of this.#districts) {
      const { plan, filter } = d
      this.#lasting(d, timeUs)
      if (!plan.sense || !filter || this.machine.analogChannel(plan.sense.pin) !== channel) continue
      return plan.sense.zeroVolt + plan.sense.voltPerAmp * filter.at(timeUs)
    }
    return undefined
  }

  #note(kind: BenchEventKind, about: string, sentence: string, timeUs = this.nowUs, on?: boolean): void {
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
