/** Plays a stimulus script to the controller. */
import { InputError } from '../../../units/index.js'
import type { Peripheral, PeripheralHost } from '../peripherals/peripheral.js'
import type { ResetCause, Stimulus, StimulusAction, StimulusEvent, StimulusRepeat } from './stimulus.js'

/** What a script can act on. Names are checked before the run. */
export interface Stage {
  /** Cycle at a time since power-up, for the clock as it is divided now. */
  cycleAtUs(us: number): number
  serial(port: number): { receive(value: number, at: number, baud?: number): void } | undefined
  serialNames(): string
  setPin(pin: string, level: 0 | 1 | undefined, at: number): void
  hasPin(pin: string): boolean
  /** Whether `ADC0`, `AIN0` or a pin is an analog input. */
  hasAnalog(input: string): boolean
  setVolt(input: string, volt: number, at: number): void
  askReset(cause: ResetCause, asked: boolean): void
}

/** A stream of events in time order: the plain lines, a repeated block, or random bytes. */
interface Source {
  nextUs: number
  play(): void
}

export class StimulusPlayer implements Peripheral {
  readonly #host: PeripheralHost
  readonly #stage: Stage
  readonly #slot: number
  readonly #sources: Source[] = []
  #at = 0

  /** @throws InputError with the line that names what the chip does not have. */
  constructor(stimulus: Stimulus, host: PeripheralHost, stage: Stage) {
    this.#host = host
    this.#stage = stage
    this.#slot = host.slot(this)
    for (const event of stimulus.events) this.#check(event, stimulus.name)
    if (stimulus.events.length > 0) this.#sources.push(this.#lines(stimulus.events))
    for (const repeat of stimulus.repeats) {
      for (const event of repeat.events) this.#check(event, stimulus.name)
      this.#sources.push(this.#rounds(repeat))
    }
    this.reschedule()
  }

  #check({ action, line, column }: StimulusEvent, file: string): void {
    const fail = (message: string) => new InputError(message, { file, line, column })
    if (
      (action.kind === 'bytes' || action.kind === 'random') &&
      this.#stage.serial(action.port) === undefined
    ) {
      throw fail(`no serial port ${action.port} on this controller; expected ${this.#stage.serialNames()}`)
    }
    if (action.kind === 'pin' && !this.#stage.hasPin(action.pin)) {
      throw fail(`no pin ${action.pin} on this controller`)
    }
    if (action.kind === 'volt' && !this.#stage.hasAnalog(action.input)) {
      throw fail(`no analog input ${action.input} on this controller`)
    }
  }

  #lines(events: readonly StimulusEvent[]): Source {
    let index = 0
    const source: Source = {
      nextUs: events[0]!.atUs,
      play: () => {
        this.#act(events[index]!.action, source.nextUs)
        index++
        source.nextUs = events[index]?.atUs ?? Number.POSITIVE_INFINITY
      },
    }
    return source
  }

  #rounds({ everyUs, fromUs, toUs, events }: StimulusRepeat): Source {
    let round = 0
    let index = 0
    const timeOf = () => {
      const start = fromUs + round * everyUs
      return start < toUs ? start + events[index]!.atUs : Number.POSITIVE_INFINITY
    }
    const source: Source = {
      nextUs: timeOf(),
      play: () => {
        this.#act(events[index]!.action, source.nextUs)
        if (++index === events.length) {
          index = 0
          round++
        }
        source.nextUs = timeOf()
      },
    }
    return source
  }

  /** Bytes at chance times: the gaps are exponential, so that they come independently of one another. */
  #random(action: Extract<StimulusAction, { kind: 'random' }>, startUs: number): Source {
    const { perSecond, forUs, seed, from, port } = action
    // Marsaglia's xorshift32; 0 would stay 0.
    let state = (seed * 2654435761 + 1) >>> 0 || 1
    const chance = () => {
      state ^= state << 13
      state ^= state >>> 17
      state ^= state << 5
      state >>>= 0
      return state / 2 ** 32
    }
    const later = (us: number) => {
      const next = us - (Math.log(1 - chance()) * 1e6) / perSecond
      return next < startUs + forUs ? next : Number.POSITIVE_INFINITY
    }
    const source: Source = {
      nextUs: later(startUs),
      play: () => {
        const value = from[Math.floor(chance() * from.length)]!
        this.#stage.serial(port)?.receive(value, this.#at, action.baud)
        source.nextUs = later(source.nextUs)
      },
    }
    return source
  }

  #act(action: StimulusAction, atUs: number): void {
    if (action.kind === 'bytes') {
      const port = this.#stage.serial(action.port)
      for (const value of action.bytes) port?.receive(value, this.#at, action.baud)
    } else if (action.kind === 'random') this.#sources.push(this.#random(action, atUs))
    else if (action.kind === 'pin') this.#stage.setPin(action.pin, action.level, this.#at)
    else if (action.kind === 'reset') this.#stage.askReset(action.cause, true)
    else this.#stage.setVolt(action.input, action.volt, this.#at)
  }

  #forgetFinished(): void {
    if (this.#sources.length < 32) return
    const left = this.#sources.filter((s) => s.nextUs !== Number.POSITIVE_INFINITY)
    this.#sources.splice(0, this.#sources.length, ...left)
  }

  /** The clock's division has changed: the same time is another cycle now. */
  reschedule(): void {
    let next = Number.POSITIVE_INFINITY
    for (const source of this.#sources) if (source.nextUs < next) next = source.nextUs
    this.#host.schedule(
      this.#slot,
      next === Number.POSITIVE_INFINITY ? next : Math.max(this.#at, this.#stage.cycleAtUs(next)),
    )
  }

  event(at: number): void {
    this.#at = at
    for (;;) {
      let first: Source | undefined
      for (const source of this.#sources) {
        if (first === undefined || source.nextUs < first.nextUs) first = source
      }
      // Compared as cycles, as it was scheduled: rounding a time both ways could miss by a hair and never end.
      if (first === undefined || !(this.#stage.cycleAtUs(first.nextUs) <= at)) break
      first.play()
    }
    this.#forgetFinished()
    this.reschedule()
  }

  // The outside does not reset with the chip.
  reset(): void {}
  read(): number {
    return 0
  }
  write(): void {}
  acknowledge(): void {}
}
