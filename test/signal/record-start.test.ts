/** How a record begins changes nothing of what it shows. */
import { expect, it } from 'vitest'
import { CaptureImporter, type CaptureSink } from '../../src/capture/index.js'
import { SignalEncoder, SignalReader, signalStatements } from '../../src/signal/index.js'
import { profileOf } from '../../src/standard/index.js'

const PROFILE = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })

it.each([180, 181.4375, 178, 0.000001, 300])(
  'exact ones of 60 us and zeros of 100 us, first edge at %s us',
  (firstUs) => {
    const encoder = new SignalEncoder({ oneHalfUs: 60, zeroHalfUs: 100, preamble: 16 })
    for (let i = 0; i < 60; i++) encoder.packet([3, 0x3f, i, 3 ^ 0x3f ^ i])
    encoder.ones(2)
    const edges = encoder.finish()
    const rows = ['#0', '0!']
    for (let i = 0; i < edges.count; i++)
      rows.push(`#${Math.round(firstUs * 1e6) + edges.ticks[i]! * 1000}`, `${edges.levels[i]}!`)
    const text = `$timescale 1 ps $end\n$var wire 1 ! main $end\n$enddefinitions $end\n${rows.join('\n')}\n`
    let reader: SignalReader | undefined
    const sink: CaptureSink = {
      begin(clock) {
        reader = new SignalReader(clock)
      },
      push: (block) => reader!.push(block),
    }
    const importer = new CaptureImporter({}, sink)
    importer.push(new TextEncoder().encode(text))
    const { clock, endUs } = importer.end()
    const reading = reader!.finish(endUs / clock.tickUs)
    const list = signalStatements(reading, PROFILE, { origin: 'measured', source: 'record', probe: 'logic' })
    const open = list.filter((s) => s.verdict === 'undecided' || s.verdict === 'broken')
    expect(open.map((s) => s.because)).toEqual([])
    expect(list.filter((s) => s.verdict === 'met').length).toBeGreaterThan(9)
  },
)
