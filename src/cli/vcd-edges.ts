/** Edges of simulated outputs as VCD (IEEE 1364), written while the simulation runs. */
import { type MadeBy, vcdComment } from '../capture/index.js'
import { type EdgeBlock, type EdgeSink, HIGH, LOW } from '../signal/index.js'
import type { OutputFile } from './files/index.js'

interface Signal {
  code: string
  ticks: number[]
  levels: number[]
  next: number
}

/** Times are whole picoseconds; an output that is neither high nor low is `z`. */
export class VcdEdges {
  readonly #file: OutputFile
  readonly #psPerTick: number
  readonly #signals: Signal[] = []
  #text = ''
  #time = -1

  constructor(file: OutputFile, clockHz: number, names: readonly string[], madeBy: MadeBy) {
    this.#file = file
    this.#psPerTick = 1e12 / clockHz
    const codes = names.map((_, i) => String.fromCharCode(33 + i))
    const wires = names.map((name, i) => `$var wire 1 ${codes[i]} ${name.replace(/\s/g, '_')} $end`)
    file.write(
      vcdComment(madeBy) +
        [
          '$timescale 1 ps $end',
          '$scope module station $end',
          ...wires,
          '$upscope $end',
          '$enddefinitions $end',
          '',
        ].join('\n'),
    )
    for (const code of codes) this.#signals.push({ code, ticks: [], levels: [], next: 0 })
  }

  /** Takes the edges of the output with this number. */
  sink(index: number): EdgeSink {
    const signal = this.#signals[index]!
    return {
      push: (block: EdgeBlock) => {
        for (let i = 0; i < block.count; i++) {
          signal.ticks.push(block.ticks[i]!)
          signal.levels.push(block.levels[i]!)
        }
      },
    }
  }

  /** Everything before this tick is complete: write it, the signals merged in time order. */
  settle(tick: number): void {
    for (;;) {
      let first: Signal | undefined
      for (const s of this.#signals) {
        const at = s.ticks[s.next]
        if (at !== undefined && at < tick && (first === undefined || at < first.ticks[first.next]!)) first = s
      }
      if (first === undefined) break
      const at = Math.round(first.ticks[first.next]! * this.#psPerTick)
      if (at !== this.#time) this.#text += `#${at}\n`
      this.#time = at
      const level = first.levels[first.next]
      this.#text += `${level === HIGH ? '1' : level === LOW ? '0' : 'z'}${first.code}\n`
      first.next++
      if (this.#text.length > 1 << 16) this.#flush()
    }
    for (const s of this.#signals) {
      s.ticks.splice(0, s.next)
      s.levels.splice(0, s.next)
      s.next = 0
    }
  }

  /** @param tick end of the record. */
  end(tick: number): void {
    this.settle(tick)
    this.#text += `#${Math.round(tick * this.#psPerTick)}\n`
    this.#flush()
    this.#file.commit()
  }

  #flush(): void {
    this.#file.write(this.#text)
    this.#text = ''
  }
}
