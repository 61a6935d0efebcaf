/**
 * What the firmware does in a run, beside the signal it makes: the commands it obeys, the shorts it switches off.
 * Watched while the run goes on, judged at its end.
 */
import {
  type Command,
  recogniseCommands,
  type SerialByte,
  type SimulatedController,
  type VoltChange,
} from '../controller/index.js'
import { type LoadedDesign, profileOfDesign } from '../design/index.js'
import type { Finding } from '../finding/index.js'
import {
  allStages,
  chainOf,
  controllerPin,
  type DistrictStage,
  districtTrip,
  pinsServing,
} from '../power/index.js'
import type { EdgeBlock, PacketRecord } from '../signal/index.js'
import { type Evidence, marginWithin, notShown, type Statement, type Verdict } from '../standard/index.js'
import {
  type HeardPacket,
  judgeBehaviour,
  resolveTraffic,
  TRAFFIC_FINDINGS,
  trafficInputOf,
} from '../traffic/index.js'
import { acknowledgementStatements } from './acknowledgement-seen.js'
import { BEHAVIOUR_FINDINGS as SAYS } from './behaviour-findings.data.js'
import {
  type AttemptJudge,
  attemptJudge,
  attemptsOf,
  onAgain,
  overloadsOf,
  type WatchedDistrict,
  type WatchedPin,
} from './overloads.js'

/** More packets are not kept to follow commands: some six hours of a busy station. */
const MOST_PACKETS = 3_000_000
const MOST_PERIODS = 100_000
/** Without an edge for as long the signal has stopped, us; stretched zeros are shorter (S-9.1:2020 Table 1). */
const SIGNAL_STOPPED_US = 15_000
/** Used where the design names no latency. Common practice: people notice a quarter of a second. */
export const DEFAULT_LIMIT_US = 250e3

interface OffPeriod {
  fromUs: number
  toUs: number
}

export interface JudgeRun {
  /** `5 s of station.elf`. */
  source: string
  file: string
  ranUs: number
}

export class BehaviourWatch {
  readonly #loaded: LoadedDesign
  readonly #machine: SimulatedController
  readonly #attempts: AttemptJudge
  readonly #packets = new Map<string, HeardPacket[]>()
  readonly #bytes: SerialByte[]
  readonly #volts: VoltChange[]
  readonly #districts: WatchedDistrict[]
  readonly #offPeriods = new Map<string, OffPeriod[]>()
  /** Of those drivers only that the firmware can switch off. */
  readonly #switchedOff = new Map<string, OffPeriod[]>()
  #kept = 0

  /** Attach it before the run begins. */
  constructor(loaded: LoadedDesign, machine: SimulatedController) {
    this.#loaded = loaded
    this.#machine = machine
    this.#attempts = attemptJudge(loaded)
    this.#bytes = machine.recordSerial(loaded.design.firmware?.commands?.port ?? 0)
    this.#volts = machine.recordVolts()
    this.#districts = this.#watchDistricts()
    for (const name of Object.keys(loaded.design.signal.outputs)) {
      const enables = this.#enables(name)
      const switchable = enables.filter((pins) => pins.length > 0)
      this.#offPeriods.set(name, this.#watchOff(enables))
      if (switchable.length > 0) this.#switchedOff.set(name, this.#watchOff(switchable))
    }
  }

  /**
   * When the firmware has switched off every driver of an output: the list grows as the run goes on, the last may be
   * open. Each begins as much earlier, and ends as much later, as a half-bit may last: the signal may end with the one before and
   * has its first edge with the end of its first.
   */
  offPeriods(output: string): readonly OffPeriod[] {
    return this.#offPeriods.get(output) ?? []
  }

  /** Enable inputs of each driver of an output; a driver without one cannot be switched off. */
  #enables(output: string): string[][] {
    const { power, signal } = this.#loaded.design
    const drivers = new Map(
      (power ? allStages(power, signal) : [])
        .filter((s) => s.output === output)
        .map((s) => [s.driverName, this.#pinsOf(s, 'enable')]),
    )
    return [...drivers.values()]
  }

  #watchOff(enables: readonly string[][]): OffPeriod[] {
    const periods: OffPeriod[] = []
    if (enables.length === 0 || enables.some((pins) => pins.length === 0)) return periods
    const levels = new Map(enables.flat().map((pin) => [pin, 0]))
    const { max: longestHalfUs = 0 } = profileOfDesign(this.#loaded).clauses['zero-half'].sender
    let open: OffPeriod | undefined
    const look = (timeUs: number) => {
      const off = enables.every((pins) => pins.some((pin) => levels.get(pin) === 0))
      if (off && !open) {
        open = { fromUs: timeUs - longestHalfUs, toUs: Number.POSITIVE_INFINITY }
        if (periods.length < MOST_PERIODS) periods.push(open)
      } else if (!off && open) {
        // The first half-bit ends with the first edge.
        open.toUs = timeUs + longestHalfUs
        open = undefined
      }
    }
    look(0)
    for (const pin of levels.keys())
      this.#machine.listen(pin, (level, at) => {
        levels.set(pin, level)
        look(this.#machine.usAtCycle(at))
      })
    return periods
  }

  /** Pins of the controller that go to the driver's inputs of a role. */
  #pinsOf(stage: DistrictStage, role: string): string[] {
    return pinsServing(stage).flatMap((p) => {
      const name = controllerPin(p)
      return p.role === role && name !== undefined && this.#machine.hasPin(name) ? [name] : []
    })
  }

  onPacket(output: string, { timeUs, endUs, bytes, valid }: PacketRecord): void {
    if (this.#kept >= MOST_PACKETS) return
    this.#kept++
    const list = this.#packets.get(output) ?? []
    this.#packets.set(output, list)
    list.push({ timeUs, endUs, bytes, valid })
  }

  /** Of `command-latency`, `refresh`, `service-sequence`, `short-trip` and `ack-detect`. */
  statements(run: JudgeRun): Statement[] {
    return [
      ...this.#commands(run),
      ...this.#ignoredPowerOff(run),
      ...this.#districts.map((d) => this.#trip(d, run)),
      ...acknowledgementStatements(this.#loaded, this.#machine, this.#packets, run),
    ]
  }

  #commands({ source, file, ranUs }: JudgeRun): Statement[] {
    const { design } = this.#loaded
    const { firmware, fleet, signal, traffic } = design
    const profile = profileOfDesign(this.#loaded)
    const outputs = Object.entries(signal.outputs).map(([name, { mode }]) => {
      return { name, mode, packets: this.#packets.get(name) ?? [] }
    })
    if (this.#kept >= MOST_PACKETS) {
      const finding = TRAFFIC_FINDINGS.find('too-many-packets', { source, most: MOST_PACKETS })
      return outputs.flatMap(({ name, mode }) =>
        mode === 'operations'
          ? (['command-latency', 'refresh'] as const).map((id) =>
              notShown(id, 'simulated', finding, { about: name }),
            )
          : [],
      )
    }
    const settings = firmware?.commands
    const commands: Command[] | undefined = settings && recogniseCommands(this.#bytes, settings)
    const resolved = fleet && resolveTraffic(trafficInputOf({ ...design, fleet }))
    return judgeBehaviour({
      ...(commands ? { commands } : {}),
      bytes: this.#bytes.length,
      fullSpeed: settings?.fullSpeed ?? 126,
      rampUs: settings?.ramp ?? 0,
      outputs,
      fleetOutput: resolved?.input.traffic.output,
      locomotives: resolved?.locomotives ?? [],
      limitUs: traffic?.limit ?? DEFAULT_LIMIT_US,
      ranUs,
      source,
      file,
      profile,
    })
  }

  /**
   * Packets that still reach the rails after power off was commanded. Only through drivers that the firmware can switch
   * off by the design: with others it may have a way that the design does not name.
   */
  #ignoredPowerOff({ source, file, ranUs }: JudgeRun): Evidence[] {
    const { firmware, traffic } = this.#loaded.design
    if (!firmware?.commands?.powerOff) return []
    const limitUs = traffic?.limit ?? DEFAULT_LIMIT_US
    const commands = recogniseCommands(this.#bytes, firmware.commands)
    const offs = commands.flatMap(({ kind, timeUs, text }) => {
      if (kind !== 'powerOff') return []
      const next = commands.find((c) => c.timeUs > timeUs && ['powerOn', 'powerOff'].includes(c.kind))
      return [{ text, atUs: timeUs, fromUs: timeUs + limitUs, toUs: next?.timeUs ?? ranUs }]
    })
    return [...this.#switchedOff].flatMap(([name, periods]): Evidence[] => {
      const ignored = offs.flatMap((command) => {
        const packet = this.#packets
          .get(name)
          ?.find(
            ({ timeUs }) =>
              timeUs >= command.fromUs &&
              timeUs < command.toUs &&
              !periods.some((p) => timeUs >= p.fromUs && timeUs < p.toUs),
          )
        return packet ? [{ ...command, packetUs: packet.timeUs }] : []
      })
      const [first] = ignored
      if (!first) return []
      const { text, atUs, packetUs } = first
      const finding = SAYS.find('power-off-ignored', { source, output: name, text, packetUs, limitUs })
      return [
        {
          clause: 'command-latency',
          origin: 'simulated',
          about: name,
          verdict: 'broken',
          value: { low: packetUs - atUs, high: packetUs - atUs, unit: 'us' },
          margin: -1,
          count: { seen: offs.length, outside: ignored.length },
          where: { file, timeUs: packetUs },
          because: finding.sentence,
          finding,
        },
      ]
    })
  }

  #watchDistricts(): WatchedDistrict[] {
    const { power, signal } = this.#loaded.design
    if (!power) return []
    return allStages(power, signal).flatMap((stage): WatchedDistrict[] => {
      const { district } = stage
      if (district.trip?.by !== 'sense') return []
      const chain = chainOf(stage)
      const trip = districtTrip(stage)
      const pin = stage.sensePin && controllerPin(stage.sensePin)
      const channel = pin === undefined ? undefined : this.#machine.analogChannel(pin)
      if (!chain || !trip || !district.sense || pin === undefined || channel === undefined) return []
      const { zero } = district.sense
      const overAmp = district.trip.current * (1 + chain.gainError) + chain.offsetAmp
      const offPins = [
        ...this.#pinsOf(stage, 'enable').map((name) => this.#watchPin(name, 0)),
        ...this.#pinsOf(stage, 'brake').map((name) => this.#watchPin(name, 1)),
      ]
      const [direction] = this.#pinsOf(stage, 'direction')
      const signal = direction === undefined ? undefined : this.#watchSignal(direction)
      const overVolt = zero + chain.voltPerAmp * overAmp
      const ampAt = (volt: number) => (volt - zero) / chain.voltPerAmp
      return [{ stage, trip, ampAt, pin, channel, overVolt, offPins, signal }]
    })
  }

  #watchPin(pin: string, offLevel: number): WatchedPin {
    const watched: WatchedPin = { pin, offLevel, changes: [] }
    this.#machine.record(
      {
        push: ({ ticks, levels, count }: EdgeBlock) => {
          for (let i = 0; i < count && watched.changes.length < MOST_PACKETS; i++)
            watched.changes.push({ timeUs: this.#us(ticks[i]!), level: levels[i]! })
        },
      },
      pin,
    )
    return watched
  }

  #watchSignal(pin: string): { silences: number[]; lastUs: number } {
    const signal = { silences: [] as number[], lastUs: 0 }
    this.#machine.record(
      {
        push: ({ ticks, count }: EdgeBlock) => {
          for (let i = 0; i < count; i++) {
            const us = this.#us(ticks[i]!)
            if (us - signal.lastUs > SIGNAL_STOPPED_US) signal.silences.push(signal.lastUs)
            signal.lastUs = us
          }
        },
      },
      pin,
    )
    return signal
  }

  #us(tick: number): number {
    return (tick * 1e6) / this.#machine.clockHz
  }

  #trip(watched: WatchedDistrict, { source, file, ranUs }: JudgeRun): Statement {
    const { stage, trip, ampAt, pin, overVolt } = watched
    const about = stage.name
    const unmodelled = this.#machine.unmodelledAt([pin, ...watched.offPins.map((p) => p.pin)])
    const overloads = overloadsOf(this.#volts, watched.channel, overVolt, ranUs)
    const untried = overloads.length > 0 ? undefined : SAYS.find('short-not-tried', { source, pin, overVolt })
    const why = unmodelled ?? untried
    if (why) return notShown('short-trip', 'simulated', why, { about })
    const tried = overloads.map((o) => ({
      ...o,
      off: this.#offAfter(watched, o.fromUs, o.toUs, ranUs),
      // By the design's own figures, whatever the phase of the converter.
      wantedUs: trip.timeUs(ampAt(o.volt), 0).worstUs,
    }))
    const say = (
      verdict: Verdict,
      finding: Finding,
      tookUs: number,
      atUs: number,
      wantedUs: number,
    ): Evidence => ({
      clause: 'short-trip',
      origin: 'simulated',
      about,
      verdict,
      value: { low: tookUs, high: tookUs, unit: 'us' },
      margin:
        verdict === 'met'
          ? marginWithin(0, tookUs, { max: wantedUs ?? tookUs })
          : verdict === 'broken'
            ? -1
            : 0,
      count: { seen: tried.length, outside: tried.filter((t) => t.off === undefined).length },
      where: { file, timeUs: atUs, channel: pin },
      because: finding.sentence,
      finding,
    })
    const missed = tried.filter((t) => t.off === undefined)
    const brief = missed.filter((t) => t.toUs - t.fromUs <= t.wantedUs)
    const ignored = missed.find((t) => !brief.includes(t))
    if (ignored) {
      const lastedUs = ignored.toUs - ignored.fromUs
      const finding = SAYS.find('never-trips', { source, pin, volt: ignored.volt, lastedUs })
      return say('broken', finding, lastedUs, ignored.fromUs, ignored.wantedUs)
    }
    const answered = tried.flatMap(({ off, ...t }) =>
      off ? [{ ...t, off, tookUs: off.atUs - t.fromUs }] : [],
    )
    if (answered.length === 0) {
      const { fromUs, toUs, wantedUs } = brief[0]!
      const lastedUs = toUs - fromUs
      const finding = SAYS.find('short-too-brief', { source, pin, lastedUs, wantedUs })
      return say('undecided', finding, lastedUs, fromUs, wantedUs)
    }
    for (const { off, fromUs, toUs, wantedUs, volt } of answered) {
      const again = onAgain(watched.offPins, off.atUs, toUs, wantedUs, stage.district.trip?.blanking ?? 0)
      if (!again) continue
      const finding = SAYS.find('does-not-stay-off', { source, pin, volt, ...again })
      return say('broken', finding, toUs - fromUs, again.atUs, wantedUs)
    }
    for (const { off, fromUs, toUs, wantedUs, volt } of answered) {
      const seen = attemptsOf(watched.offPins, off.atUs, toUs)
      const held = seen && this.#attempts(about, seen)
      if (!seen || !held || held.verdict === 'met') continue
      const finding = SAYS.find('attempts-too-hot', { source, pin, volt, ...seen, because: held.because })
      return say(held.verdict, finding, seen.onUs, fromUs, wantedUs)
    }
    const worst = answered.reduce((a, b) => (b.tookUs - b.wantedUs > a.tookUs - a.wantedUs ? b : a))
    const { tookUs, wantedUs, fromUs } = worst
    const figures = { source, pin, volt: worst.volt, tookUs, by: worst.off.by }
    if (tookUs > wantedUs)
      return say('broken', SAYS.find('trips-late', { ...figures, wantedUs }), tookUs, fromUs, wantedUs)
    // Whether that is soon enough is for the calculation: a run shows that the firmware does what the design says.
    return say('met', SAYS.find('trips-on-short', figures), tookUs, fromUs, wantedUs)
  }

  /** The first thing after `fromUs` that switches the driver off, while the overload lasts or just after. */
  #offAfter(watched: WatchedDistrict, fromUs: number, toUs: number, ranUs: number) {
    const found: { atUs: number; by: string }[] = []
    for (const { pin, offLevel, changes } of watched.offPins) {
      const change = changes.find((c) => c.level === offLevel && c.timeUs > fromUs && c.timeUs <= toUs)
      if (change) found.push({ atUs: change.timeUs, by: `the firmware turns ${pin}` })
    }
    const { signal } = watched
    if (signal) {
      const silence = signal.silences.find((us) => us >= fromUs && us <= toUs)
      const open =
        ranUs - signal.lastUs > SIGNAL_STOPPED_US && signal.lastUs >= fromUs && signal.lastUs <= toUs
      const atUs = silence ?? (open ? signal.lastUs : undefined)
      if (atUs !== undefined) found.push({ atUs, by: 'the firmware stops the signal' })
    }
    return found.sort((a, b) => a.atUs - b.atUs)[0]
  }
}
