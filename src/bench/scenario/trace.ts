/** What is written down while a scenario runs, so that it can be judged and drawn afterwards. */
import { type Command, recogniseCommands, type SerialByte, textBytes } from '../../controller/index.js'
import type { Decoder } from '../decoder/decoder.js'
import { driverPins } from '../station/acts.js'
import type { BenchEvent, CoupledRun } from '../station/coupled.js'
import type { BenchSetup } from '../station/setup.js'
import type { ActDesign } from './design.js'
import { OutputEar } from './output-ear.js'

/** What a decoder has been told, from a time on. */
export interface DecoderState {
  timeUs: number
  /** Share of full speed; the sign is the direction. */
  told: number
  /** Speed steps in which it was told. */
  steps: number
  /** Functions that are on, in order. */
  functions: string
  powered: boolean
}

/** An act that has happened. */
export interface DoneAct {
  act: ActDesign
  index: number
  timeUs: number
  /** When what it began was ended, us; Infinity where it was not. */
  endUs: number
  /** Of what it put across the rails: the district, where it has one. */
  district?: string | undefined
}

/** Between looks at the decoders while no packet ends, us. */
const LOOK_EVERY_US = 20e3
const MOST_STATES = 200_000
/** A change and the event that tells of it are no further apart, us. */
const SAME_TIME_US = 20

export class Trace {
  readonly run: CoupledRun
  readonly setup: BenchSetup
  readonly ears: ReadonlyMap<string, OutputEar>
  /** States of each decoder, by its name, in the order of time; the first at 0. */
  readonly states = new Map<string, DecoderState[]>()
  readonly done: DoneAct[] = []
  /** Inputs of drivers that are not those of the signal, with each change of level. */
  readonly pins: { name: string; edges: { timeUs: number; level: 0 | 1 }[] }[]
  /** Bytes that came in on the port of the commands. */
  readonly bytesIn: SerialByte[]
  readonly #last = new Map<string, { decoder: Decoder; events: number; state: DecoderState }>()

  constructor(run: CoupledRun, setup: BenchSetup) {
    this.run = run
    this.setup = setup
    this.bytesIn = run.machine.recordSerial(setup.commands?.port ?? 0)
    this.ears = new Map(
      setup.outputs.map((o) => {
        const ear = new OutputEar(o, run.machine, setup.windows)
        ear.onPacket = ({ endUs }) => this.look(endUs)
        return [o.name, ear]
      }),
    )
    const ofSignal = setup.outputs.flatMap((o) => [o.pin, o.inverted])
    this.pins = driverPins(setup)
      .filter((pin) => !ofSignal.includes(pin))
      .map((name) => {
        const edges: { timeUs: number; level: 0 | 1 }[] = [{ timeUs: 0, level: 0 }]
        run.machine.listen(name, (level, at) => {
          if (edges.length < MOST_STATES) edges.push({ timeUs: run.machine.usAtCycle(at), level })
        })
        return { name, edges }
      })
    for (const decoder of run.decoders) {
      const state: DecoderState = {
        timeUs: 0,
        told: 0,
        steps: 126,
        functions: '',
        powered: decoder.isPowered,
      }
      this.#last.set(decoder.name, { decoder, events: -1, state })
      this.states.set(decoder.name, [state])
    }
    const again = (timeUs: number) =>
      run.at(timeUs, () => {
        this.look(run.nowUs)
        again(timeUs + LOOK_EVERY_US)
      })
    again(LOOK_EVERY_US)
  }

  /** Note what has changed in the decoders. */
  look(timeUs: number): void {
    for (const seen of this.#last.values()) {
      const { decoder } = seen
      const told = decoder.forward ? decoder.target : -decoder.target
      const was = seen.state
      if (decoder.events.length === seen.events && told === was.told && decoder.isPowered === was.powered)
        continue
      seen.events = decoder.events.length
      const functions = [...decoder.functions].sort((a, b) => a - b).join(' ')
      if (told === was.told && functions === was.functions && decoder.isPowered === was.powered) continue
      seen.state = { timeUs, told, steps: decoder.steps, functions, powered: decoder.isPowered }
      const list = this.states.get(decoder.name)!
      if (list.length < MOST_STATES) list.push(seen.state)
    }
  }

  /** What a decoder had been told at a time. */
  stateAt(decoder: string, timeUs: number): DecoderState | undefined {
    return this.states.get(decoder)?.findLast((s) => s.timeUs <= timeUs)
  }

  /** Times in which a decoder was told to move, us. */
  moves(decoder: string): { fromUs: number; toUs: number }[] {
    const list: { fromUs: number; toUs: number }[] = []
    let from: number | undefined
    for (const { timeUs, told } of this.states.get(decoder) ?? []) {
      if (told !== 0) from ??= timeUs
      else if (from !== undefined) {
        list.push({ fromUs: from, toUs: timeUs })
        from = undefined
      }
    }
    if (from !== undefined) list.push({ fromUs: from, toUs: Number.POSITIVE_INFINITY })
    return list
  }

  commands(): Command[] {
    const { commands } = this.setup
    return commands ? recogniseCommands(this.bytesIn, commands) : []
  }

  /** When a district got and lost power, in the order of time, with the event that brought it where one is known. */
  switchings(district: string): { timeUs: number; on: boolean; event: BenchEvent | undefined }[] {
    const supply = this.setup.districts.find((d) => d.name === district)?.supply
    return (this.run.powered.get(district) ?? []).map(({ timeUs, on }) => {
      const event = this.run.events.findLast(
        (e) =>
          e.on === on &&
          (e.about === district || e.about === supply) &&
          Math.abs(e.timeUs - timeUs) <= SAME_TIME_US,
      )
      return { timeUs, on, event }
    })
  }

  /** Whether a district had power at a time. */
  wasOn(district: string, timeUs: number): boolean {
    return this.run.powered.get(district)?.findLast((s) => s.timeUs <= timeUs)?.on === true
  }

  /** The first act of a name. */
  named(name: string): DoneAct | undefined {
    return this.done.find((d) => d.act.name === name)
  }

  /** When the firmware has sent a text, from a time on, us; the text may have escapes. */
  answered(text: string, fromUs: number): number | undefined {
    const wanted = textBytes(text)
    const { answers } = this.run
    for (let i = 0; i + wanted.length <= answers.length; i++) {
      if (answers[i]!.timeUs < fromUs) continue
      if (wanted.every((value, k) => answers[i + k]!.value === value))
        return answers[i + wanted.length - 1]!.timeUs
    }
    return undefined
  }
}
