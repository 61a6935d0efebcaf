/** Everything about trains on the rails: where they are, whether they have contact and voltage, what they hear. */
import { jointKeepsRails, trackName } from '../../track/index.js'
import type { AccessoryDecoder } from '../decoder/accessory.js'
import type { Spot } from '../electrical/network.js'
import type { Instant } from '../electrical/rails.js'
import { Motion, type Moved, type Position } from '../trains/motion.js'
import type { CoupledRun } from './coupled.js'
import type { Heard } from './line.js'
import type { BenchTrain } from './train.js'

/** A wheel is across a gap for so long a way; assumed, no source: the flat of a contact and the gap itself. */
const WHEEL_MM = 3
/** Of a wheel's contact on both sides of a gap together, Ohm; assumed. */
const WHEEL_OHM = 0.05
/** Slower than this a train stands, mm/s. */
const STANDS_MM_PER_S = 0.5
/** Trains look where they are at least as often, us. */
const LOOK_US = 20e3
const MOST_STOPS = 10_000

/** A train that was told to stop, and stood then. */
export interface TrainStop {
  train: string
  /** When its decoder heard it, and when it stood, us. */
  heardUs: number
  stoodUs: number
  /** From one to the other, mm. */
  ranMm: number
  /** Its speed when it heard it, mm/s; the sign is the direction. */
  mmPerS: number
  /** Where the end that leads was when it heard it; both ends when it stood. */
  heardAt: Position
  leads: Position
  trails: Position
}

/** A train that has heard that it is to stop. */
interface Heeding {
  heardUs: number
  ranMm: number
  mmPerS: number
  heardAt: Position
}

/** A stretch without contact. */
interface Dirt {
  track: number
  fromMm: number
  toMm: number
}

export class Yard {
  readonly #run: CoupledRun
  readonly dirt = new Map<string, Dirt>()
  readonly stops: TrainStop[] = []
  /** Trains that are to stop, with where they were when they heard it. */
  readonly #stopping = new Map<BenchTrain, Heeding>()
  /** Told when a decoder begins to acknowledge, with the district it is in. */
  readonly onAcknowledgement: ((district: string, timeUs: number) => void)[] = []
  readonly #indexOf = new Map<BenchTrain, number>()

  constructor(run: CoupledRun) {
    this.#run = run
    for (const train of run.trains)
      train.decoder.onAcknowledge = (_, timeUs) => this.#acknowledge(train, timeUs)
  }

  /** Put a train somewhere, or into its district where the design does not describe the track. */
  place(train: BenchTrain, at: Position | undefined): void {
    const { network, ways } = this.#run
    const layout = network.model?.plan
    if (at && layout && ways) {
      train.motion = new Motion(layout, ways, at, train.plan.lengthMm ?? 0)
      train.settle(network)
    } else train.motion = undefined
    train.regain('off the rails')
    this.#touch(train)
  }

  /** Lay a train on rails without a described place. */
  lay(train: BenchTrain, district: number, spot: Spot): void {
    train.motion = undefined
    train.district = district
    for (const load of train.loads) load.spot = spot
    train.regain('off the rails')
    this.#touch(train)
  }

  remove(train: BenchTrain): void {
    train.motion = undefined
    train.district = -1
    train.lose('off the rails')
    this.#touch(train)
  }

  /** Its loads have the contact that the train has. */
  #touch(train: BenchTrain): void {
    for (const load of train.loads) load.contact = train.hasContact
  }

  /** No contact until {@link regain}. */
  lose(train: BenchTrain, why: string): void {
    train.lose(why)
    this.#touch(train)
  }

  regain(train: BenchTrain, why: string): void {
    train.regain(why)
    this.#touch(train)
  }

  #acknowledge(train: BenchTrain, timeUs: number): void {
    const { afterUs, forUs, choppedUs } = train.acknowledgement
    const pulse = (fromUs: number, us: number) => {
      for (const [atUs, change] of [
        [fromUs, 1],
        [fromUs + us, -1],
      ] as const)
        this.#run.at(atUs, () => {
          train.acknowledging += change
          this.#run.change(this.#run.nowUs)
        })
    }
    const start = timeUs + afterUs
    this.#run.at(start, () => {
      const district = this.#run.districts[train.district]?.plan.name
      if (district !== undefined) for (const tell of this.onAcknowledgement) tell(district, start)
    })
    if (!choppedUs) pulse(start, forUs)
    else for (let us = 0; us < forUs; us += choppedUs) pulse(start + us, Math.min(choppedUs, forUs - us) / 2)
  }

  #volt(train: BenchTrain, at: Instant): number {
    let index = this.#indexOf.get(train)
    if (index === undefined) {
      index = this.#run.rails.loads.indexOf(train.load)
      if (index >= 0) this.#indexOf.set(train, index)
    }
    return at.state.volt[index] ?? 0
  }

  /** Who has voltage enough. @returns whether somebody now draws what he did not */
  check(timeUs: number): boolean {
    let changed = false
    const now = this.#run.rails.at(timeUs)
    for (const train of this.#run.trains) {
      const powered = this.#volt(train, now) >= train.neededVolt
      this.#hearing(train, timeUs)
      if (powered === train.decoder.isPowered) continue
      train.decoder.power(powered, timeUs)
      changed = true
    }
    return changed
  }

  /** When a decoder's voltage passes what it needs between two instants, us; Infinity if none does. */
  crossing(a: Instant, b: Instant): number {
    let next = Number.POSITIVE_INFINITY
    for (const train of this.#run.trains) {
      const need = train.neededVolt
      const [x, y] = [this.#volt(train, a), this.#volt(train, b)]
      if (train.decoder.isPowered ? !(x >= need && y < need) : !(x < need && y >= need)) continue
      next = Math.min(next, a.timeUs + ((need - x) / (y - x)) * (b.timeUs - a.timeUs))
    }
    return next
  }

  /** Whether the rails under a train carry its signal. */
  #hearing(train: BenchTrain, timeUs: number): void {
    const d = this.#run.districts[train.district]
    // A decoder knows the cut-out, and hears on after it.
    if (d?.inCutout && train.hasContact) return
    const hears =
      train.hasContact &&
      d?.isOn === true &&
      this.#run.rails.voltAt(train.load.spot, timeUs) >= train.plan.minVolt
    if (!hears) train.hearsSinceUs = Number.POSITIVE_INFINITY
    else if (train.hearsSinceUs === Number.POSITIVE_INFINITY) train.hearsSinceUs = timeUs
  }

  hears(train: BenchTrain, { bytes, fromUs, endUs }: Heard): void {
    if (!train.decoder.isPowered) return
    this.#hearing(train, endUs)
    if (train.hearsSinceUs > fromUs) return
    const went = train.decoder.target
    train.decoder.packet(bytes, endUs)
    if (train.decoder.target > 0) this.#stopping.delete(train)
    else if (went > 0 && train.motion) {
      const looked = (Math.abs(train.speedMmPerS) * Math.max(0, endUs - train.movedUs)) / 1e6
      const { front, rear, ranMm } = train.motion
      this.#stopping.set(train, {
        heardUs: endUs,
        ranMm: ranMm + looked,
        mmPerS: train.speedMmPerS,
        heardAt: train.speedMmPerS < 0 ? rear : front,
      })
    }
  }

  /** It stands, as it was told. */
  #stood(train: BenchTrain, timeUs: number): void {
    const from = this.#stopping.get(train)
    if (!from || train.speedMmPerS !== 0) return
    this.#stopping.delete(train)
    if (!train.decoder.isPowered || this.stops.length === MOST_STOPS) return
    this.stops.push(stopOf(train, from, timeUs))
  }

  /** Trains that were told to stop and do not stand yet. */
  get unfinished(): TrainStop[] {
    return [...this.#stopping].flatMap(([train, from]) =>
      train.motion ? [stopOf(train, from, Number.POSITIVE_INFINITY)] : [],
    )
  }

  accessoryHears(accessory: AccessoryDecoder, bytes: Uint8Array, endUs: number): void {
    const output = accessory.packet(bytes, endUs)
    if (output === undefined) return
    const to = output === 1 ? 'straight' : 'diverging'
    if (this.#run.ways?.position(accessory.name) === to) return
    this.#run.ways?.throw(accessory.name, to)
    this.#run.note('decoder', accessory.name, `is thrown to ${to}`, endUs)
  }

  /** Trains move. */
  look(timeUs: number): void {
    for (const train of this.#run.trains) this.#advance(train, timeUs)
  }

  #advance(train: BenchTrain, timeUs: number): void {
    train.decoder.advance(timeUs)
    const { motion } = train
    if (!motion) {
      this.#derailed(train, timeUs)
      return
    }
    const met = train.move(timeUs)
    for (const m of met) this.#met(train, m)
    this.#stood(train, timeUs)
    const dirty = this.#isDirty(train)
    const was = train.hasContact
    if (dirty && was) this.#run.note('train', train.plan.name, 'has no contact: dirt')
    if (dirty) train.lose('dirt')
    else train.regain('dirt')
    this.#touch(train)
    this.#derailed(train, timeUs)
    if (train.settle(this.#run.network) || met.length > 0 || was !== train.hasContact)
      this.#run.change(timeUs)
    this.#expect(train, timeUs)
  }

  /** Be there when it reaches the end of its stretch, or dirt. */
  #expect(train: BenchTrain, timeUs: number): void {
    const speed = Math.abs(train.speedMmPerS)
    if (speed < STANDS_MM_PER_S) return
    const us = (this.#nextMm(train) / speed) * 1e6
    if (us < LOOK_US) this.#run.at(timeUs + us + 1, () => this.#advance(train, this.#run.nowUs))
  }

  #nextMm(train: BenchTrain): number {
    const forward = train.speedMmPerS > 0
    let next = train.motion!.untilEnd(forward)
    const { front } = train.motion!
    for (const d of this.dirt.values()) {
      if (d.track !== front.track) continue
      for (const edge of [d.fromMm, d.toMm]) {
        const mm = Math.abs(edge - front.mm)
        if (mm > 1e-3) next = Math.min(next, mm)
      }
    }
    return Math.max(next, 1e-3)
  }

  #isDirty(train: BenchTrain): boolean {
    const { track, mm } = train.motion!.front
    for (const d of this.dirt.values())
      if (d.track === track && mm >= d.fromMm - 1e-3 && mm <= d.toMm + 1e-3) return true
    return false
  }

  /** A derailed train shorts the rails as long as it moves. */
  #derailed(train: BenchTrain, timeUs: number): void {
    const name = `derailed ${train.plan.name}`
    const { shorts } = this.#run.rails
    const moves = train.motion ? Math.abs(train.speedMmPerS) > STANDS_MM_PER_S : train.decoder.motorShare > 0
    const wanted = train.derailedOhm !== undefined && moves && train.district >= 0
    if (wanted === shorts.has(name)) return
    this.#run.note(
      'short',
      train.plan.name,
      wanted ? 'shorts the rails while it moves' : 'its short is gone',
      timeUs,
    )
    this.#run.change(timeUs, () => {
      if (wanted) shorts.set(name, { spot: train.load.spot, ohm: train.derailedOhm! })
      else shorts.delete(name)
    })
  }

  #met(train: BenchTrain, m: Moved): void {
    const { network, rails } = this.#run
    const { plan, net } = network.model!
    const name = trackName(plan.tracks[m.track]!)
    const about = train.plan.name
    if (m.what === 'left') {
      this.#run.note('train', about, `has left ${name}`)
      return
    }
    if (m.what === 'end') {
      if (train.speedMmPerS !== 0) this.#run.note('train', about, `stands at the end of ${name}`)
      train.speedMmPerS = 0
      return
    }
    this.#run.note('train', about, `${m.end === 'front' ? 'its front' : 'its rear'} enters ${name}`)
    const [was, now] = [network.districtOfTrack(m.from), network.districtOfTrack(m.track)]
    if (m.end !== 'front' || was === now || m.joint < 0) return
    // Its wheels join the two districts for an instant.
    const joint = plan.joints[m.joint]!
    const [from, to] = joint.a >> 1 === m.from ? [joint.a, joint.b] : [joint.b, joint.a]
    const at = (end: number) =>
      network.place(network.placeAt(end >> 1, (end & 1) === 0 ? 0 : plan.tracks[end >> 1]!.lengthMm))
    const alike = (net.phase[from >> 1] === net.phase[to >> 1]) === jointKeepsRails(joint)
    const opposed = !alike || this.#run.districts[was]!.line !== this.#run.districts[now]!.line
    const key = `wheels of ${about}`
    rails.bridges.set(key, { from: at(from), to: at(to), ohm: WHEEL_OHM, opposed })
    const us = (WHEEL_MM / Math.max(1, Math.abs(train.speedMmPerS))) * 1e6
    this.#run.at(this.#run.nowUs + us, () =>
      this.#run.change(this.#run.nowUs, () => rails.bridges.delete(key)),
    )
  }

  /** Where a train is: section of its front and of its rear. */
  where(train: BenchTrain): { front: Position; rear: Position; sections: string[] } | undefined {
    const { motion } = train
    const plan = this.#run.network.model?.plan
    if (!motion || !plan) return undefined
    return {
      front: motion.front,
      rear: motion.rear,
      sections: motion.tracks.map((t) => trackName(plan.tracks[t]!)),
    }
  }
}

function stopOf(train: BenchTrain, { heardUs, ranMm, mmPerS, heardAt }: Heeding, stoodUs: number): TrainStop {
  const { front, rear, ranMm: ran } = train.motion!
  const [leads, trails] = mmPerS < 0 ? [rear, front] : [front, rear]
  return {
    train: train.plan.name,
    heardUs,
    stoodUs,
    ranMm: Math.max(0, ran - ranMm),
    mmPerS,
    heardAt,
    leads,
    trails,
  }
}
