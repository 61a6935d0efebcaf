/** What the bench asks of a controller; another kind of chip needs nothing more to be put on it. */
import { SimulatedController, serialFaults } from '../../controller/index.js'
import type { Finding } from '../../finding/index.js'
import type { BenchSetup } from './setup.js'

export interface BenchController {
  /** Time since power-up, us. */
  readonly nowUs: number
  /** Run until at least this time: to the next instruction. */
  runTo(timeUs: number): void
  /** Something outside happens at this time: end the run under way by then. */
  stopBy(timeUs: number): void
  levelOf(pin: string): 0 | 1
  /** Told of every change of a pin, with its time, us. */
  onPin(pin: string, listener: (level: 0 | 1, timeUs: number) => void): void
  /** A level from outside, as a pull resistor or a fault output gives it; undefined lets the pin float. */
  setPin(pin: string, level: 0 | 1 | undefined): void
  /** Volts at an analog input, asked for at the instant of sampling. @returns false where the pin is none */
  onSample(pin: string, volt: (timeUs: number) => number): boolean
  /** A byte comes in on a serial port. @returns false where there is no such port */
  receive(port: number, value: number): boolean
  /** Told of every byte sent, with the time at which it is out, us. */
  onSent(port: number, listener: (value: number, timeUs: number) => void): void
  reset(): void
  /** The program stands still until then, us, while timers and watchdog run on. */
  hang(untilUs: number): void
  /** Only the main program stands still until then, us; its interrupts are served. */
  hangMain(untilUs: number): void
  /** The chip is held in reset until then, us, and begins anew; programs can read the cause. */
  holdReset(untilUs: number, cause: 'external' | 'brown-out'): void
  /** What the run met that is not simulated or may be a fault. */
  readonly notes: readonly Finding[]
  /** Why nothing of the run can be trusted, where it used what is not simulated and could move one of these pins or falsify what is read there. */
  unmodelled(pins: readonly string[]): Finding | undefined
}

export class AvrController implements BenchController {
  readonly machine: SimulatedController
  readonly #clockHz: number
  readonly #samples = new Map<number, (timeUs: number) => number>()

  constructor({ chip, clockHz, image, line }: Pick<BenchSetup, 'chip' | 'clockHz' | 'image' | 'line'>) {
    this.machine = new SimulatedController(chip, clockHz, image, { line })
    this.#clockHz = clockHz
    this.machine.adc.source = (channel, at) => this.#samples.get(channel)?.(this.machine.usAtCycle(at))
  }

  #tick(timeUs: number): number {
    return Math.max(0, Math.ceil((timeUs * this.#clockHz) / 1e6))
  }

  get nowUs(): number {
    return this.machine.usAtCycle(this.machine.now)
  }

  runTo(timeUs: number): void {
    this.machine.runTo(this.#tick(timeUs))
  }

  stopBy(timeUs: number): void {
    this.machine.stopBy(this.#tick(timeUs))
  }

  levelOf(pin: string): 0 | 1 {
    return this.machine.levelOf(pin)
  }

  onPin(pin: string, listener: (level: 0 | 1, timeUs: number) => void): void {
    const { machine } = this
    machine.listen(pin, (level, at) => listener(level, machine.usAtCycle(at)))
  }

  setPin(pin: string, level: 0 | 1 | undefined): void {
    this.machine.setPin(pin, level, this.machine.now)
  }

  onSample(pin: string, volt: (timeUs: number) => number): boolean {
    const channel = this.machine.analogChannel(pin)
    if (channel === undefined) return false
    this.#samples.set(channel, volt)
    return true
  }

  receive(port: number, value: number): boolean {
    const usart = this.machine.serial(port)
    usart?.receive(value, this.machine.now)
    return usart !== undefined
  }

  onSent(port: number, listener: (value: number, timeUs: number) => void): void {
    const usart = this.machine.serial(port)
    if (usart) usart.onSent = (value, at) => listener(value, this.machine.usAtCycle(at))
  }

  reset(): void {
    this.machine.askReset('external', true)
  }

  hang(untilUs: number): void {
    this.machine.hold(this.machine.cycleAtUs(untilUs))
  }

  hangMain(untilUs: number): void {
    this.machine.holdMain(this.machine.cycleAtUs(untilUs))
  }

  holdReset(untilUs: number, cause: 'external' | 'brown-out'): void {
    this.machine.askReset(cause, true)
    this.machine.hold(this.machine.cycleAtUs(untilUs))
  }

  unmodelled(pins: readonly string[]): Finding | undefined {
    return this.machine.unmodelledAt(pins)
  }

  get notes(): readonly Finding[] {
    const { usarts, notes, notModelled } = this.machine
    // Bytes that come while the program does not run are lost by what the scenario does to it.
    const lost = serialFaults(
      usarts.map(({ model: { name }, overrun, frameErrors, rates }) => ({
        name,
        overrun,
        whileOff: 0,
        frameErrors,
        rates,
      })),
    )
    return [...lost, ...notModelled.map((n) => n.finding), ...notes]
  }
}
