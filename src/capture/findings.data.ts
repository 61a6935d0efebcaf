/** What this room has to say, as codes with parameters. */
import { findingTable } from '../finding/index.js'
import { formatNumber, formatRange, formatSi, formatTimeUs } from '../units/index.js'

const volt = (value: number) => formatNumber(value, 3)
const us = (value: number) => formatTimeUs(value, 3)

/** Whether decoders should still read what the station must not send. */
function decoders(should: boolean | undefined, accept: string): string {
  if (should === undefined) return ''
  return should
    ? `; decoders should still read it, as they must accept ${accept}`
    : `; decoders need not read it, as they must accept only ${accept}`
}

export const CAPTURE_FINDINGS = findingTable('capture', {
  'no-volts': {
    means: 'The record holds no voltages, so this clause cannot be judged on it.',
    remedy: 'Give the volts per count of raw samples; otherwise record the rails with an oscilloscope.',
    says: ({ what }: { what: 'counts' | 'levels' }) =>
      what === 'counts'
        ? 'the samples are counts of unknown size; given the volts per count, they can be judged'
        : 'the record holds levels and no voltages',
  },
  'logic-probe': {
    means: 'The probe was on the logic pin, where the voltage of the rails does not show.',
    remedy: 'Record both rails and subtract them.',
    says: () => 'the probe was on the logic pin, not at the rails',
  },
  'one-rail': {
    means: 'One polarity only appears: one rail against the ground, not the voltage between both rails.',
    remedy: 'Record both rails and subtract them, or use a differential probe.',
    says: ({ low, high }: { low: number; high: number }) =>
      `one polarity only, ${formatRange(low, high, 'V', 3)}: one rail against the ground, not the voltage between both`,
  },
  'few-samples': {
    means: 'The record is too short to judge the shape of its signal.',
    says: ({ samples, edges }: { samples: number; edges: number }) =>
      `${samples} samples with ${edges} half-bits are too few`,
  },
  'below-region': {
    means: 'The swing does not cover the region in which the slope is judged, -4 to +4 V.',
    says: ({ low, high }: { low: number; high: number }) =>
      `the plateaus at ${volt(low)} and ${volt(high)} V do not cover the judged region from -4 to +4 V`,
  },
  'no-limit': {
    means: 'The chosen edition sets no such limit.',
    says: () => 'this edition sets no such limit',
  },
  slope: {
    means: 'The slope of the edges between -4 and +4 V.',
    says: (p: {
      edges: number
      slowest: number
      mean: number
      uncertain: number
      coarse: number
      bound: number | undefined
      decidedBy: 'each' | 'together' | 'one' | 'coarse' | 'none'
      limit: number
      noise: number
      neededUs: number | undefined
      sampleUs: number
      should: boolean | undefined
      receiver: number | undefined
    }) => {
      const says: string[] = []
      if (p.edges > 0)
        says.push(
          `the slowest of ${p.edges} edges between -4 and +4 V measures ${volt(p.slowest)} V/us; edges in that direction average ${volt(p.mean)}`,
        )
      if (p.coarse > 0)
        says.push(
          `${p.coarse} edges have fewer than two samples inside: all that is known is that they reach at least ${volt(p.bound ?? 0)} V/us`,
        )
      const noise = `${volt(p.noise)} V of noise makes a single one uncertain by ${volt(p.uncertain)} V/us`
      const how = {
        each: '',
        together: `; ${noise}; all of one direction together decide`,
        one: `; ${noise}; the slowest alone decides`,
        coarse: `; ${us(p.sampleUs)} between samples leaves it open, ${formatSi(1e6 / (p.neededUs ?? 1), 'S/s', 2)} would decide it`,
        none: `; ${noise}, and all together do not decide it either; a record with less noise or more edges would`,
      }[p.decidedBy]
      return says.join('; ') + how + decoders(p.should, `from ${p.receiver} V/us`)
    },
  },
  crossing: {
    means: 'Whether the signal is monotonic around zero.',
    says: (p: {
      edges: number
      worst: number
      returns: number
      guard: number
      verdict: string
      sampleUs: number
      neededUs: number
    }) => {
      if (p.returns > 0) {
        const times = p.returns === 1 ? 'once' : `${p.returns} times`
        return `the signal had left the band of 2 V around zero, to ${volt(p.worst)} V, and ${times} entered it again before the next half-bit`
      }
      const inside =
        p.worst > 0
          ? `reverses only within ${volt(p.worst)} V of zero`
          : 'does not reverse within 2 V of zero'
      const seen = `around ${p.edges} crossings the signal ${inside}`
      if (p.verdict !== 'undecided')
        return p.guard > 0.3 ? `${seen}, as far as ${volt(p.guard)} V of noise and steps lets it show` : seen
      return p.neededUs < p.sampleUs
        ? `${seen}; ${us(p.sampleUs)} between samples may hide a short return, ${formatSi(1e6 / p.neededUs, 'S/s', 2)} would show it`
        : `${seen}; noise and steps of ${volt(p.guard)} V may hide a return`
    },
  },
  peak: {
    means: 'The highest voltage of either polarity.',
    says: (p: {
      peak: number
      low: number
      high: number
      uncertain: number
      verdict: string
      withstand: number | undefined
      reference: string
    }) => {
      const noise = p.verdict === 'undecided' ? `; noise and steps may be ${volt(p.uncertain)} V of that` : ''
      const stands =
        p.withstand === undefined || p.verdict !== 'broken'
          ? ''
          : p.peak > p.withstand
            ? `; decoders need not withstand more than ${p.withstand} V`
            : `; decoders must withstand ${p.withstand} V`
      return `peaks reach ${volt(p.peak)} V, the plateaus lie at ${volt(p.high)} and ${volt(p.low)} V, ${p.reference}${noise}${stands}`
    },
  },
  rms: {
    means: 'The RMS voltage, where the edition limits it.',
    says: (p: { rms: number; ceiling: number; scale: string }) =>
      `the RMS voltage is ${volt(p.rms)} V; this edition allows ${p.ceiling} V at ${p.scale} scale`,
  },
  plateau: {
    means:
      'The lowest plateau of any half-bit; peaks by ringing or noise do not count for the minimum (derived).',
    says: (p: {
      weakest: number
      uncertain: number
      mean: number
      count: number
      decidedBy: 'each' | 'together' | 'one' | 'none'
      reference: string
      should: boolean | undefined
      receiver: number | undefined
    }) => {
      const how = {
        each: '',
        one: '; that one decides',
        together: `; all ${p.count} half-bits together, ${volt(p.mean)} V, decide`,
        none: `; known to ${volt(p.uncertain)} V, this leaves it open`,
      }[p.decidedBy]
      return `the lowest plateau of any half-bit is ${volt(p.weakest)} V over 10 us, ${p.reference} (the plateau counts, not the peak: derived)${how}${decoders(p.should, `from ${p.receiver} V`)}`
    },
  },
  'no-plateau': {
    means: 'The samples are so far apart that none certainly lies on a plateau.',
    says: ({ sampleUs }: { sampleUs: number }) =>
      `sampled every ${us(sampleUs)}, no sample certainly lies on a plateau; 500 kS/s would decide it`,
  },
  'small-swing': {
    means: 'The swing is too small for a track signal.',
    remedy: 'Give the division factor of the probe, such as 10.',
    says: ({ low, high, factor }: { low: number; high: number; factor: number }) =>
      `${formatRange(low, high, 'V', 3)} is low for rails; if the probe divides by ${factor}, give its factor`,
  },
  'reference-zero': {
    means: 'Zero of the record was taken for zero, as both polarities appear.',
    says: ({ low, high }: { low: number; high: number }) =>
      `${volt(low)} and ${volt(high)} V lie unevenly about 0 V, which was taken for zero as both polarities appear; if the ground of the probe is not the middle of the rails, subtract two channels or take the middle for zero`,
  },
})
