/** Wires between controller, drivers, sense and serial line: what the levels of pins do, and what comes back. */
import { InputError } from '../../units/index.js'
import type { CoupledRun } from './coupled.js'
import type { DistrictStation } from './district.js'
import { Line } from './line.js'
import { noiseOf } from './noise.js'
import type { BenchDistrict } from './setup.js'

export class Wires {
  readonly #run: CoupledRun
  readonly #lines = new Map<string, Line>()
  /** Levels of pins that the controller does not give now. */
  readonly #held = new Map<string, 0 | 1>()

  /** Of each district beside what its sense has, V RMS. */
  readonly #noiseVolt = new Map<string, number>()

  constructor(run: CoupledRun) {
    this.#run = run
  }

  /** The pair of wires that a driver listens to; several may listen to one. */
  lineOf({ driver, delayUs }: BenchDistrict): Line | undefined {
    if (driver.direction === undefined) return undefined
    const key = `${driver.direction} ${driver.inverted}`
    let line = this.#lines.get(key)
    if (!line) {
      const output = this.#run.setup.outputs.find((o) => [o.pin, o.inverted].includes(driver.direction))
      line = new Line(driver.direction, driver.inverted, delayUs ?? 0, output?.cutoutUs)
      this.#lines.set(key, line)
    }
    return line
  }

  /** Once everything is there. */
  connect(): void {
    const { controller, setup, districts, answers } = this.#run
    const port = setup.commands?.port ?? 0
    controller.onSent(port, (value, timeUs) => answers.push({ value, timeUs }))
    for (const { driver } of setup.districts)
      for (const [pin, level] of Object.entries(driver.pulls ?? {})) controller.setPin(pin, level)
    const hasBare = districts.some((d) => d.plan.driver.bothHigh === 'short')
    for (const line of this.#lines.values()) {
      const mine = districts.filter((d) => d.line === line)
      const listen = (which: 0 | 1, pin: string) => {
        line.pin(which, controller.levelOf(pin), 0)
        controller.onPin(pin, (level, timeUs) => {
          if (this.#held.has(pin)) return
          line.pin(which, level, timeUs)
          if (hasBare) this.#watchShorts(timeUs)
          // Two inputs that differ again after they had switched it off.
          if (line.inverted !== undefined && mine.some((d) => d.wanted !== 'driving'))
            this.#read(mine, timeUs)
        })
      }
      listen(0, line.direction)
      if (line.inverted !== undefined) listen(1, line.inverted)
      for (const train of this.#run.trains)
        line.listen(train.plan.windows ?? setup.windows, (heard) => {
          if (districts[train.district]?.line === line) this.#run.yard.hears(train, heard)
        })
      line.listen(setup.windows, ({ bytes, endUs }) => {
        if (!mine.some((d) => this.#run.isOn(d.plan.name))) return
        for (const a of this.#run.accessories) this.#run.yard.accessoryHears(a, bytes, endUs)
      })
    }
    for (const d of districts) {
      const { enable, enableLow = [], brake } = d.plan.driver
      for (const pin of new Set([...enable, ...enableLow, ...brake]))
        controller.onPin(pin, (_, timeUs) => {
          if (!this.#held.has(pin)) this.#read([d], timeUs)
        })
      this.#connectSense(d)
    }
    this.#read(districts, 0)
  }

  /** What the converter reads of a district is so much noisier from now on; less with a negative figure. */
  addNoise(district: string, volt: number): void {
    this.#noiseVolt.set(district, (this.#noiseVolt.get(district) ?? 0) + volt)
  }

  #connectSense(d: DistrictStation): void {
    const { sense, name } = d.plan
    if (!sense || !d.filter) return
    const { filter, line } = d
    const { seed = 1, referenceError = 0 } = this.#run.setup
    const noise = noiseOf(`${seed} ${name}`)
    const known = this.#run.controller.onSample(sense.pin, (timeUs) => {
      this.lasting(timeUs)
      const seen = sense.oneSided && line?.level === 0 ? 0 : filter.at(timeUs)
      const noiseVolt = (sense.noiseVolt ?? 0) + (this.#noiseVolt.get(name) ?? 0)
      const volt = sense.zeroVolt + sense.voltPerAmp * seen + (noiseVolt > 0 ? noise() * noiseVolt : 0)
      return volt / (1 + referenceError)
    })
    if (!known) throw new InputError(`district "${name}": ${sense.pin} is no analog input of the controller`)
  }

  /** Pins that the controller does not give for now; without levels it gives all of them again. */
  hold(levels: Readonly<Record<string, 0 | 1>>): void {
    this.#held.clear()
    for (const [pin, level] of Object.entries(levels)) this.#held.set(pin, level)
    const now = this.#run.nowUs
    for (const line of this.#lines.values()) {
      line.pin(0, this.levelOf(line.direction), now)
      if (line.inverted !== undefined) line.pin(1, this.levelOf(line.inverted), now)
    }
    this.#read(this.#run.districts, now)
  }

  levelOf(pin: string): 0 | 1 {
    return this.#held.get(pin) ?? this.#run.controller.levelOf(pin)
  }

  /** What the drivers make of their inputs now. */
  #read(districts: readonly DistrictStation[], timeUs: number): void {
    this.#watchShorts(timeUs)
    let changed = false
    for (const d of districts) {
      const was = d.wanted
      const equal = d.read((pin) => this.levelOf(pin))
      // Power may be off for another reason now: an enable input, after two equal ones.
      if (d.wanted === was && (equal || !d.inCutout)) continue
      // Of a pair the levels change one after the other, a few cycles apart: only what lasts is a switching off.
      if (equal && was === 'driving' && !d.line?.isEqual(timeUs)) {
        d.wanted = was
        continue
      }
      changed = true
      const wasOn = was === 'driving' || d.inCutout
      d.inCutout = equal && d.line?.isCutout(timeUs) === true
      this.#switched(d, wasOn, timeUs)
    }
    if (changed) this.#run.change(timeUs)
  }

  /** Bridges that short their supply while both of their inputs are high. */
  #watchShorts(timeUs: number): void {
    for (const d of this.#run.districts) {
      if (d.plan.driver.bothHigh !== 'short') continue
      if (d.isShortedNow((pin) => this.levelOf(pin), timeUs))
        this.#run.note(
          'driver',
          d.plan.name,
          'both inputs of the driver are high: it shorts its supply',
          d.shortedAtUs,
        )
    }
  }

  #switched(d: DistrictStation, wasOn: boolean, timeUs: number): void {
    const on = d.wanted === 'driving' || d.inCutout
    if (on !== wasOn)
      this.#run.note('driver', d.plan.name, `the driver is switched ${on ? 'on' : 'off'}`, timeUs, on)
  }

  /**
   * Inputs of a pair that have been equal for a while have switched the driver off when they became so; those that are
   * equal for no longer than a cut-out lasts have not.
   */
  lasting(timeUs: number): void {
    this.#watchShorts(timeUs)
    let since = Number.POSITIVE_INFINITY
    for (const d of this.#run.districts) {
      const { line, inCutout } = d
      if (!line?.isEqual(timeUs)) continue
      const isCutout = line.isCutout(timeUs)
      if (d.wanted === 'driving') {
        const equal = d.read((pin) => this.levelOf(pin))
        if (d.wanted === 'driving') continue
        d.inCutout = isCutout && equal
      } else if (inCutout && !isCutout) d.inCutout = false
      else continue
      since = Math.min(since, line.equalSinceUs)
      this.#switched(d, true, line.equalSinceUs)
    }
    if (since !== Number.POSITIVE_INFINITY) this.#run.change(since)
  }
}
