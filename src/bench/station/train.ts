/** A train on the bench: its decoder, what it draws and where, and how it moves. */
import { Decoder } from '../decoder/decoder.js'
import type { ReceiverWindows } from '../decoder/receiver.js'
import type { RailNetwork, Spot } from '../electrical/network.js'
import type { RailLoad } from '../electrical/parts.js'
import type { Motion, Moved } from '../trains/motion.js'
import type { Acknowledgement, BenchDecoder } from './setup.js'

/** A decoder that was without voltage starts again with so much more than it needs, V; common practice, no source. */
const RESTART_VOLT = 0.5
/** Small loads without a decoder: their smoothing. Assumed. */
const TAIL = { farad: 10e-6, ohm: 0.5 }

export class BenchTrain {
  readonly plan: BenchDecoder
  readonly decoder: Decoder
  readonly load: RailLoad
  readonly tail: RailLoad | undefined
  motion: Motion | undefined
  /** District of its front; −1 while it is on no rails. */
  district: number
  isStuck = false
  /** Its wheels short the rails with so many Ohm while it moves. */
  derailedOhm: number | undefined
  /** Why it has no contact now. */
  readonly #without = new Set<string>()
  acknowledging = 0
  acknowledgement: Acknowledgement
  /** It hears without a break since then, us; Infinity while it does not. */
  hearsSinceUs = 0
  speedMmPerS = 0
  /** Its position is that of this time, us. */
  movedUs = 0

  constructor(plan: BenchDecoder, windows: ReceiverWindows, spot: Spot, district: number) {
    this.plan = plan
    this.district = district
    const { name, cvs, timeoutUs, capacitors, minVolt } = plan
    this.acknowledgement = plan.acknowledgement
    this.decoder = new Decoder({ name, cvs, windows: plan.windows ?? windows, timeoutUs })
    const [main, stay] = capacitors
    this.load = {
      spot,
      contact: true,
      amp: 0,
      ohm: main!.ohm,
      farad: main!.farad,
      volt: 0,
      stay: stay && { ...stay, volt: 0 },
      watchVolt: minVolt,
    }
    if (plan.tailAmp) this.tail = { spot, contact: true, amp: plan.tailAmp, ...TAIL, volt: 0 }
  }

  get loads(): RailLoad[] {
    return this.tail ? [this.load, this.tail] : [this.load]
  }

  lose(why: string): void {
    this.#without.add(why)
  }

  /** @returns whether it has contact again */
  regain(why: string): boolean {
    this.#without.delete(why)
    return this.hasContact
  }

  get hasContact(): boolean {
    return this.#without.size === 0
  }

  /** Drawn by decoder and motor now, A. */
  get drawsAmp(): number {
    const { plan, decoder } = this
    if (!decoder.isPowered) return 0
    const share = decoder.motorShare
    const motor = this.isStuck && share > 0 ? (plan.stallAmp ?? plan.motorAmp) : plan.motorAmp * share
    return plan.idleAmp + motor + this.acknowledging * this.acknowledgement.amp
  }

  /** Set its load to what it draws. @returns whether that is another current than before */
  draw(): boolean {
    const before = this.load.amp
    this.load.amp = this.drawsAmp
    const changed = Math.abs(this.load.amp - before) > 1e-3
    if (!changed) this.load.amp = before
    return changed
  }

  /** Voltage that a decoder needs now, V. */
  get neededVolt(): number {
    return this.decoder.isPowered ? this.plan.minVolt : this.plan.minVolt + RESTART_VOLT
  }

  /** Time passes: it moves as fast as its motor turns. @returns what its ends met */
  move(timeUs: number): Moved[] {
    const us = timeUs - this.movedUs
    this.movedUs = timeUs
    const { motion } = this
    const { topMmPerS: top = 0, runOutMm = 0 } = this.plan
    if (!(us > 0) || !motion) return []
    const wanted = this.isStuck ? 0 : top * this.decoder.motorShare * (this.decoder.forward ? 1 : -1)
    const before = this.speedMmPerS
    const rolls = runOutMm > 0 ? (top * top) / (2 * runOutMm) : Number.POSITIVE_INFINITY
    const slower = Math.abs(wanted) < Math.abs(before) || Math.sign(wanted) !== Math.sign(before)
    // It rolls out as without its motor, whatever the motor does; faster it becomes at once.
    const most = (rolls * us) / 1e6
    const gap = wanted - before
    const after = slower && before !== 0 && Math.abs(gap) > most ? before + Math.sign(gap) * most : wanted
    const mean = Number.isFinite(rolls) && slower ? (before + after) / 2 : after
    this.speedMmPerS = after
    const mm = (mean * us) / 1e6
    return mm === 0 ? [] : motion.move(mm)
  }

  /** Tell its loads where they are. @returns whether any of them is somewhere else */
  settle(network: RailNetwork): boolean {
    if (!this.motion) return false
    const spotOf = (at: { track: number; mm: number }) => network.place(network.placeAt(at.track, at.mm))
    let changed = false
    const put = (load: RailLoad | undefined, at: { track: number; mm: number }) => {
      if (!load) return
      const spot = spotOf(at)
      changed ||= load.spot !== spot
      load.spot = spot
    }
    put(this.load, this.motion.front)
    put(this.tail, this.motion.rear)
    this.district = network.districtOfTrack(this.motion.front.track)
    return changed
  }
}
