/** The worker for edges at a place of the track, with the SPICE engine when asked: it may end with its run. */
import { loadDesign } from '../../design/index.js'
import { railroadOf } from '../../proof/index.js'
import {
  confirmRingingAt,
  type DistrictRinging,
  type RingingAt,
  ringingAtSteps,
  ringingDrawing,
  type SpiceEngine,
  spiceThrough,
} from '../../track/index.js'
import { formatNumber, formatTimeUs, InputError } from '../../units/index.js'
import { answerCalls } from './channel.js'
import { titleOf } from './figures.js'
import type { RingAnswer, RingCalls } from './ring-calls.js'

const volt = (v: number) => `${formatNumber(v, 3)} V`
const metres = (mm: number) => `${formatNumber(mm / 1000, 3)} m`

const times = (n: number) => (n === 0 ? 'never' : n === 1 ? 'once' : `${n} times`)

function bestRow({ best }: DistrictRinging, withstand: number): [string, string][] {
  if (!best) return []
  return [
    [
      'best resistor and capacitor at the ends of the bus',
      `${best.ohm} Ohm and ${formatNumber(best.farad * 1e9, 3)} nF: peak ${volt(best.peakVolt)} of ${volt(withstand)}, step backwards ${volt(best.distortionVolt)}, ${formatNumber(best.watt, 2)} W in the resistor`,
    ],
  ]
}

function answerOf(found: RingingAt, withstand: number): RingAnswer {
  const { place, way, edges } = found
  const { far } = edges
  const high = edges.far.peakVolt * (edges.worst.peakVolt > 0 ? edges.highPeakVolt / edges.worst.peakVolt : 1)
  const { svg, name } = ringingDrawing(edges, place)
  return {
    place,
    figure: { name, svg, title: titleOf(svg) },
    rows: [
      [
        'way from the station',
        `${metres(way.busMm)} of bus (${way.run}), ${metres(way.feederMm)} of feeder (${way.feeder}), ${metres(way.railMm)} of rails`,
      ],
      ['peak', `${volt(far.peakVolt)}, ${volt(far.overshootVolt)} above where it settles`],
      [
        'peak with the supply at its highest',
        `${volt(high)}; decoders must withstand ${volt(withstand)}: ${high > withstand ? 'too high' : `${volt(withstand - high)} to spare`}`,
      ],
      ['slope from -4 V to +4 V', `${formatNumber(far.slopeVoltPerUs, 3)} V/us`],
      [
        'back into the band of 2 V around zero',
        `${times(far.recrossings)}; turns back by up to ${volt(far.distortionVolt)}`,
      ],
      ['edge of the driver', formatTimeUs(edges.edgeUs, 3)],
      ...bestRow(edges, withstand),
      [
        'calculated by',
        edges.by === 'SPICE' ? 'SPICE (ngspice as WebAssembly)' : "Halfbit's own ladder of the line",
      ],
    ],
    tooHigh: high > withstand,
    netlist: found.netlist,
    by: edges.by,
  }
}

answerCalls<RingCalls>(self as unknown as DedicatedWorkerGlobalScope, {
  async at({ text, section, atMm, search, spice }, { progress, cancelled }) {
    const railroad = railroadOf(loadDesign(text))
    if (!railroad) throw new InputError('the design has no track with power districts yet')
    const { input, model } = railroad
    const withstand = input.profile?.clauses['decoder-withstand'].sender.max ?? 24
    const where = { section, ...(atMm === undefined ? {} : { atMm }) }
    const steps = ringingAtSteps(model, where, { search })
    let told = performance.now()
    let next = steps.next()
    for (; !next.done; next = steps.next()) {
      if (performance.now() - told < 40) continue
      progress(next.value.share, next.value.what)
      await new Promise((done) => setTimeout(done, 0))
      if (cancelled()) throw new InputError('stopped')
      told = performance.now()
    }
    let found = next.value
    if (!found) throw new InputError(`no feeder leads to ${section}: it has no edges`)
    if (spice) {
      progress(Number.NaN, 'SPICE is loaded (6 MB, once) and runs')
      // What the engine prints is of no use here.
      for (const name of ['log', 'warn', 'error'] as const) console[name] = () => {}
      const engine = async () => (await import('eecircuit-engine')) as unknown as SpiceEngine
      found = await confirmRingingAt(found, spiceThrough(engine))
    }
    return { gives: answerOf(found, withstand) }
  },
})
