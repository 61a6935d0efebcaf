/** A multi-function decoder: what it makes of the packets it hears, and what it does as time passes. */
import { addresseeOf, BROADCAST, decodePacket, type Packet } from '../../packet/index.js'
import { Cvs, type SpeedSteps } from './cvs.js'
import { type Programmed, Programmer } from './programmer.js'
import { Receiver, type ReceiverWindows } from './receiver.js'

export interface DecoderSettings {
  name: string
  cvs?: Readonly<Record<number, number>>
  windows: ReceiverWindows
  /** Time without a packet for it after which it stops (CV11), us; 0: never. */
  timeoutUs: number
}

/** What a decoder did on its own account, for the record. */
export interface DecoderEvent {
  timeUs: number
  kind:
    | 'speed'
    | 'function'
    | 'stopped'
    | 'timed out'
    | 'cv'
    | 'acknowledged'
    | 'power lost'
    | 'power back'
    | 'reset'
    | 'analog'
  /** In words: `speed 60 forward`, `F3 on`, `CV29 = 6`. */
  sentence: string
}

const MOST_EVENTS = 10_000
const LONG = 0x10000

export class Decoder {
  readonly name: string
  readonly cvs: Cvs
  readonly receiver: Receiver
  readonly events: DecoderEvent[] = []
  readonly functions = new Set<number>()
  /** Called when it answers a service-mode instruction. */
  onAcknowledge: ((programmed: Programmed, timeUs: number) => void) | undefined
  readonly #timeoutUs: number
  readonly #programmer: Programmer
  /** What was commanded and what has been reached, share of full speed; the sign is the direction. */
  #target = 0
  #forward = true
  #speed = 0
  #steps: SpeedSteps = 28
  #nowUs = 0
  #heardUs = Number.NEGATIVE_INFINITY
  #powered = false
  /** It runs on what is on the rails as on analog power. */
  #analog = false
  /** Operations-mode write that was heard once: the second makes it count (S-9.2.1:2012). */
  #cvHeard = ''

  constructor({ name, cvs, windows, timeoutUs }: DecoderSettings) {
    this.name = name
    this.cvs = new Cvs(cvs)
    this.#timeoutUs = timeoutUs
    this.#programmer = new Programmer(this.cvs)
    this.receiver = new Receiver(windows, (bytes, endUs) => this.packet(bytes, endUs))
  }

  /** Share of full speed now, 0 to 1. */
  get speed(): number {
    return this.#speed
  }

  /** Steps of its latest speed packet. */
  get steps(): SpeedSteps {
    return this.#steps
  }

  get target(): number {
    return this.#target
  }

  /** As the train goes: CV29 and the consist turn it round. */
  get forward(): boolean {
    const turned = this.cvs.reversed !== (this.cvs.consist !== 0 && this.cvs.reversedInConsist)
    return this.#forward !== turned
  }

  /** Share of full voltage that its motor gets, 0 to 1. */
  get motorShare(): number {
    return this.#analog ? this.#speed : this.cvs.motorShare(this.#speed, this.#forward)
  }

  /** It runs on analog power. */
  get isAnalog(): boolean {
    return this.#analog
  }

  get isPowered(): boolean {
    return this.#powered
  }

  /** When a packet for it was last heard, us. */
  get heardUs(): number {
    return this.#heardUs
  }

  power(on: boolean, timeUs: number): void {
    this.advance(timeUs)
    if (on === this.#powered) return
    this.#powered = on
    if (!on) this.receiver.off()
    if (on) this.#heardUs = timeUs
    // Volatile state is gone; what it had reached rolls out on its own.
    if (!on) {
      this.#target = 0
      this.#speed = 0
      this.#analog = false
      this.functions.clear()
      this.#programmer.reset()
      this.#cvHeard = ''
    }
    this.#note(timeUs, on ? 'power back' : 'power lost', on ? 'has power' : 'has no power')
  }

  /**
   * There has been power without a signal for 30 ms, forward by its polarity or not: where CV29 bit 2 and CV12 allow it, it
   * runs on that (S-9.2.4:2012 B).
   */
  analog(forward: boolean, timeUs: number): void {
    this.advance(timeUs)
    if (!this.#powered || this.#analog || !this.cvs.takesAnalog) return
    this.#analog = true
    this.#forward = forward
    this.#target = 1
    this.#speed = 1
    this.#note(
      timeUs,
      'analog',
      `runs ${forward ? 'forward' : 'in reverse'} on the steady voltage of the rails`,
    )
  }

  /** Let time pass: momentum, and the packet time-out. */
  advance(timeUs: number): void {
    const elapsed = timeUs - this.#nowUs
    if (!(elapsed > 0)) return
    const due = this.#timeoutUs > 0 ? this.#heardUs + this.#timeoutUs : Number.POSITIVE_INFINITY
    if (this.#powered && !this.#analog && due <= timeUs && this.#target !== 0) {
      this.#drift(Math.max(0, due - this.#nowUs))
      this.#target = 0
      this.#note(due, 'timed out', 'stops: no packet for it within its time-out')
      this.#drift(timeUs - Math.max(due, this.#nowUs))
    } else this.#drift(elapsed)
    this.#nowUs = timeUs
  }

  #drift(us: number): void {
    const gap = this.#target - this.#speed
    if (gap === 0 || us <= 0) return
    const perStep = this.cvs.secondsPerStep(gap > 0, this.#steps)
    const most = perStep === 0 ? Number.POSITIVE_INFINITY : us / 1e6 / (perStep * this.#steps)
    this.#speed = Math.abs(gap) <= most ? this.#target : this.#speed + Math.sign(gap) * most
  }

  /** A packet that the receiver has read without fault. */
  packet(bytes: Uint8Array, timeUs: number): void {
    this.advance(timeUs)
    if (this.#analog) {
      // There is a signal again: it does what it is told, and until then nothing.
      this.#analog = false
      this.#target = 0
      this.#speed = 0
      this.#heardUs = timeUs
      this.#note(timeUs, 'stopped', 'stops: there is a signal again')
    }
    const service = this.#programmer.packet(bytes, timeUs)
    if (service.acts) {
      const { what, cv, value } = service.acts
      this.#note(timeUs, 'acknowledged', `${what} CV${cv} = ${value}`)
      this.onAcknowledge?.(service.acts, timeUs)
    }
    if (service.taken) return
    const to = addresseeOf(bytes, 0, bytes.length)
    const own = this.cvs.isLong ? LONG | this.cvs.address : this.cvs.address
    const inConsist = this.cvs.consist !== 0 && to === this.cvs.consist
    if (to !== own && to !== BROADCAST && !inConsist) return
    // Broadcasts of accessories have first bytes of their own.
    if (to === BROADCAST && bytes[0] !== 0) return
    this.#heardUs = timeUs
    const { packet } = decodePacket(bytes, { steps: this.cvs.reads28Steps ? 28 : 14 })
    if (packet) this.#obey(packet, bytes, timeUs, { inConsist, isOwn: to === own })
  }

  #obey(p: Packet, bytes: Uint8Array, timeUs: number, to: { inConsist: boolean; isOwn: boolean }): void {
    if (p.kind !== 'cv') this.#cvHeard = ''
    switch (p.kind) {
      case 'reset': {
        const had = this.#target !== 0 || this.#speed !== 0 || this.functions.size > 0
        this.#target = 0
        this.#speed = 0
        this.functions.clear()
        if (had) this.#note(timeUs, 'reset', 'stops and forgets its functions: reset')
        return
      }
      case 'broadcast-stop':
        if (p.immediate) this.#stopAtOnce(timeUs)
        else this.#setTarget(0, this.#forward, timeUs)
        return
      case 'speed':
      case 'speed-126': {
        // In a consist the decoder's own address drives it no more (S-9.2.2:2012 CV19).
        if (to.isOwn && this.cvs.consist !== 0) return
        const steps = p.kind === 'speed' ? p.of : 126
        this.#steps = steps
        const ignored = p.kind === 'speed' && p.directionIgnored
        const forward = ignored ? this.#forward : p.forward
        if (p.emergency) {
          this.#forward = forward
          this.#stopAtOnce(timeUs)
        } else this.#setTarget(p.step / steps, forward, timeUs)
        if (p.kind === 'speed' && p.of === 14) this.#switch(0, p.headlight, timeUs)
        return
      }
      case 'functions': {
        const size = p.group === 0 ? 5 : p.group < 13 ? 4 : 8
        // In 14 steps the headlight is in the speed instruction, and bit 4 of group one means nothing (S-9.2.1:2012 C).
        const first = p.group === 0 && !this.cvs.reads28Steps ? 1 : p.group
        for (let f = first; f < p.group + size; f++)
          if (to.isOwn || !to.inConsist || this.cvs.functionInConsist(f, this.#forward))
            this.#switch(f, p.on.includes(f), timeUs)
        return
      }
      case 'speed-and-functions':
        this.#steps = 126
        if (p.emergency) this.#stopAtOnce(timeUs)
        else this.#setTarget(p.step / 126, p.forward, timeUs)
        p.functions.forEach((byte, i) => {
          for (let bit = 0; bit < 8; bit++) this.#switch(8 * i + bit, (byte & (1 << bit)) !== 0, timeUs)
        })
        return
      case 'consist':
        this.cvs.write(19, p.consist | (p.reversed ? 128 : 0), false)
        this.#note(timeUs, 'cv', `CV19 = ${this.cvs.get(19)}`)
        return
      case 'cv': {
        // Not acted on at a consist address; two identical packets are needed (S-9.2.1:2012).
        if (to.inConsist || !to.isOwn) return
        const text = bytes.join()
        const isSecond = text === this.#cvHeard
        this.#cvHeard = isSecond ? '' : text
        if (!isSecond) return
        const { access } = p
        if (access.op === 'write') this.cvs.write(access.cv, access.value, false)
        else if (access.op === 'write-bit') {
          const was = this.cvs.get(access.cv)
          const mask = 1 << access.bit
          this.cvs.write(access.cv, access.value ? was | mask : was & ~mask, false)
        } else return
        this.#note(timeUs, 'cv', `CV${access.cv} = ${this.cvs.get(access.cv)}`)
        return
      }
      default:
    }
  }

  #setTarget(speed: number, forward: boolean, timeUs: number): void {
    if (speed === this.#target && forward === this.#forward) return
    // A change of direction begins from standstill: the simplest thing that momentum allows.
    if (forward !== this.#forward) this.#speed = 0
    this.#target = speed
    this.#forward = forward
    const step = Math.round(speed * this.#steps)
    this.#note(
      timeUs,
      'speed',
      speed === 0 ? 'stop' : `step ${step} of ${this.#steps} ${forward ? 'forward' : 'reverse'}`,
    )
  }

  #stopAtOnce(timeUs: number): void {
    const moved = this.#speed !== 0 || this.#target !== 0
    this.#target = 0
    this.#speed = 0
    if (moved) this.#note(timeUs, 'stopped', 'stops at once')
  }

  #switch(f: number, on: boolean, timeUs: number): void {
    if (this.functions.has(f) === on) return
    if (on) this.functions.add(f)
    else this.functions.delete(f)
    this.#note(timeUs, 'function', `F${f} ${on ? 'on' : 'off'}`)
  }

  #note(timeUs: number, kind: DecoderEvent['kind'], sentence: string): void {
    if (this.events.length < MOST_EVENTS) this.events.push({ timeUs, kind, sentence })
  }
}
