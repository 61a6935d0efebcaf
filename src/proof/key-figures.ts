/** Figures of a run or a capture that people compare, beside the clauses. */
import type { SimulationReport } from '../controller/index.js'
import type { SignalReading } from '../signal/index.js'

export interface KeyFigure {
  name: string
  /** Output it is about. */
  about?: string
  value: number
  /** `us`, `%`, or empty for a count. */
  unit: string
}

/** Of a signal that was read; what was never seen has no figure. */
export function signalFigures(reading: SignalReading, about?: string): KeyFigure[] {
  const list: KeyFigure[] = []
  const add = (name: string, value: number, unit: string) => {
    if (Number.isFinite(value)) list.push({ name, value, unit, ...(about === undefined ? {} : { about }) })
  }
  for (const [name, s] of [
    ['half of a one', reading.one],
    ['half of a zero', reading.zero],
  ] as const) {
    if (s.count === 0) continue
    add(`${name}, shortest`, s.minUs, 'us')
    add(`${name}, longest`, s.maxUs, 'us')
    add(`${name}, mean`, s.meanUs, 'us')
  }
  // The spread of ones is jitter; zeros may be stretched on purpose.
  if (reading.one.count > 0) {
    add('jitter of ones, peak to peak', reading.one.maxUs - reading.one.minUs, 'us')
    add('jitter of ones, standard deviation', reading.one.spreadUs, 'us')
  }
  if (reading.oneDifference.count > 0) {
    const { low, high } = reading.oneDifference
    add('difference of the halves of a one, largest', Math.max(Math.abs(low), Math.abs(high)), 'us')
  }
  const ranUs = reading.endUs - reading.startUs
  if (ranUs > 0) add('valid packets per second', (reading.packets.valid * 1e6) / ranUs, '')
  add('packets that are not valid', reading.packets.total - reading.packets.valid, '')
  if (reading.preamble.sent.count > 0) add('shortest preamble', reading.preamble.sent.low, 'bits')
  if (reading.packetInterval.count > 0) add('longest packet interval', reading.packetInterval.high, 'us')
  if (reading.sameAddressGap.count > 0)
    add('shortest gap between packets to one address', reading.sameAddressGap.low, 'us')
  add('glitches', reading.glitches.count, '')
  add('gaps', reading.gaps.count, '')
  return list
}

/** Of a run of firmware on the simulated controller. */
export function runFigures(report: SimulationReport): KeyFigure[] {
  const list: KeyFigure[] = [
    { name: 'controller at work', value: 100 * report.load, unit: '%' },
    { name: 'in interrupts', value: 100 * report.interruptShare, unit: '%' },
    { name: 'stack, deepest', value: report.stack.deepestBytes, unit: 'bytes' },
    { name: 'restarts', value: report.restarts.count, unit: '' },
  ]
  if (report.interruptsOff)
    list.push({ name: 'longest time with interrupts off', value: report.interruptsOff.longestUs, unit: 'us' })
  for (const o of report.outputs) {
    if (o.leastSlackUs !== undefined)
      list.push({
        name: 'least time to spare for a half-bit',
        about: o.name,
        value: o.leastSlackUs,
        unit: 'us',
      })
    list.push({ name: 'compare values too late', about: o.name, value: o.missedCompares, unit: '' })
  }
  for (const i of report.interrupts)
    list.push({ name: `latest start of ${i.name}`, value: i.worstLatencyUs, unit: 'us' })
  return list
}
