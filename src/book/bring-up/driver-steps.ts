/** The drivers with nothing on the track: what each kind of instrument shows. */
import { between, type Figure, joined, plain, type Said, said } from '../contents/figure.js'
import type { BookSources } from '../contents/sources.js'
import { switchOn } from './commands.js'
import type { Step } from './step.js'

const EARTH = plain(
  'Never clip the ground lead of a mains-earthed oscilloscope, or of one powered from a computer’s USB, to a rail or a driver output: both rails are driven, so the clip shorts a half-bridge through the earth of the computer or the scope. Use two probes with both ground clips on the minus of the supply and subtract them, or a battery-powered scope that is connected to nothing else.',
)

export function driverSteps(s: BookSources): Step[] {
  return s.stages.flatMap((stage) => districtSteps(s, stage.name))
}

function districtSteps(s: BookSources, name: string): Step[] {
  const { figures: f } = s
  const source = ['power', 'districts', name, 'source'] as const
  const low = f.by('V', 'difference', [...source, 'lowVolt'], [...source, 'dropVolt'])
  const high = f.at('V', ...source, 'highVolt')
  if (!low || !high) return []
  return [
    offStep(s, name),
    offsetStep(s, name, low, high),
    railStep(s, name),
    acStep(s, name, low, high),
    scopeStep(s, name, low, high),
  ]
}

function offStep(s: BookSources, name: string): Step {
  const { supplyName, supply, district } = s.stages.find((d) => d.name === name)!
  const fuses = [
    ...(supply.fuse === undefined ? [] : [`the fuse of supply ${supplyName}`]),
    ...(district.fuse === undefined ? [] : [`that of district ${name}`]),
  ]
  return {
    id: `off-${name}`,
    title: `District ${name}, controller held in reset: the driver is off`,
    instrument: 'DC meter',
    probes: plain(
      `${s.loaded.design.power!.controller?.from === 'track' ? 'Put the + wire of its driver back. ' : ''}${fuses.length === 0 ? '' : `Fit ${fuses.join(' and ')}. `}Controller powered, no locomotive on the rails. Hold the reset of the controller: its button, or a wire from RESET to GND. Then plug in supply ${supplyName}. Meter between the two wires of ${name}, then each of them against −.`,
    ),
    expected: plain('No voltage between the two wires, and no steady voltage from either to −.'),
    off: [
      plain(
        'The full voltage between the wires: the driver is on without a signal. It needs a resistor of some ten kilohms (common practice, no source) from its enable input to the level that is off; see the proof, clause dead-level.',
      ),
      plain(
        'A few volts on a wire, which a resistor of a kilohm from it to − brings to nothing: leakage of outputs that are off, no fault.',
      ),
    ],
    not: plain(
      'Do not put a locomotive on rails that carry DC: it may run at full speed, or its decoder may burn.',
    ),
  }
}

function offsetStep(s: BookSources, name: string, low: Figure, high: Figure): Step {
  const { figures: f } = s
  const output = s.stages.find((d) => d.name === name)?.output ?? ''
  const isService = s.loaded.design.signal.outputs[output]?.mode === 'service'
  const at = ['power', 'districts', name, 'source'] as const
  const half = f.by('V', 'DC of a half wave', [...at, 'nominalVolt'])!
  const unequal = f.by(
    'V',
    'DC of unequal halves',
    [...at, 'highVolt'],
    ['timers', output, 'one', 'us'],
    ['clauses', 'one-difference', 'sender', 'max'],
  )
  return {
    id: `offset-${name}`,
    title: `District ${name} switched on: no DC between the rails`,
    instrument: 'DC meter',
    probes: plain(
      `Let go of the reset. Switch the track on: ${switchOn(s, isService)}. Between the two wires of ${name}; station idling, nothing on the track.`,
    ),
    expected: unequal
      ? said`Near 0: less than ${unequal} while no zeros are stretched`
      : said`Near 0: a small part of ${between(low, high)}, the smaller the fewer zeros are stretched`,
    off: [
      ...(unequal
        ? [
            said`Steady and between ${unequal} and half of the voltage: the halves differ by more than the standard allows, or one half-bridge gives less than the other. Look at both wires with the oscilloscope.`,
            plain('Small and moving: zeros are stretched on purpose.'),
          ]
        : []),
      said`About ${half}, either sign: half waves, one half-bridge gives nothing (dead, not enabled, or its input not wired). An AC meter would still show a good part of the voltage.`,
      said`The full ${between(low, high)}: the signal does not alternate.`,
    ],
    not: plain(
      'Do not run a train with DC on the rails: one whose decoder allows analog running will run away.',
    ),
  }
}

function railStep({ figures: f }: BookSources, name: string): Step {
  const at = ['power', 'districts', name, 'source'] as const
  const low = f.by('V', 'half', [...at, 'lowVolt'])!
  const high = f.by('V', 'half', [...at, 'highVolt'])!
  return {
    id: `rail-${name}`,
    title: `Each wire of ${name} against minus`,
    instrument: 'DC meter',
    probes: plain(`Red on one wire of ${name}, then on the other; black on − of the supply.`),
    expected: said`${between(low, high)} on each: it is high half of the time`,
    range: { reading: 'rail high', of: name, low, high },
    off: [
      plain(
        '0 on one of them: its half-bridge gives nothing. The full voltage: its low side does not switch.',
      ),
      plain(
        'Both the same but too low: the enable input is being switched on and off, or the supply is limiting.',
      ),
    ],
    not: plain(
      'Do not replace the driver before you have checked its inputs: a missing input level looks the same.',
    ),
  }
}

function acStep(s: BookSources, name: string, low: Figure, high: Figure): Step {
  const { figures: f } = s
  const source = ['power', 'districts', name, 'source'] as const
  const [lowPath, highPath] = [
    [...source, 'lowVolt'],
    [...source, 'highVolt'],
  ]
  const average = between(
    f.by('V', 'average meter on a square wave', lowPath)!,
    f.by('V', 'average meter on a square wave', highPath)!,
  )
  const output = s.power?.districts.find((d) => d.name === name)?.output ?? ''
  const half = ['timers', output, 'one', 'us']
  const slowAverage = f.by('V', 'average meter that ends at 1 kHz', [...source, 'nominalVolt'], half)
  const slowRms = f.by('V', 'RMS meter that ends at 1 kHz', [...source, 'nominalVolt'], half)
  const rate = f.by('Hz', 'period of two halves as a rate', half)
  const halfWave = f.by('V', 'RMS of a half wave', [...source, 'nominalVolt'])!
  const parts: Said[] = [
    said`A true-RMS meter whose AC range is specified to 50 kHz or more: ${between(low, high)}`,
    said`One that responds to the average: ${average}, 11 % more, because its scale is that of a sine`,
  ]
  if (slowAverage && slowRms && rate)
    parts.push(
      said`Most pocket meters are specified to 1 kHz at best, and the ones alternate at ${rate}: if its range fell off as one RC stage does, such a meter would show about ${slowRms} (true RMS) or ${slowAverage} (average), and its reading tells you nothing`,
    )
  return {
    id: `ac-${name}`,
    title: `District ${name}: what an AC meter shows`,
    instrument: 'AC meter (how it responds, and up to which frequency, is in its data sheet)',
    probes: plain(`Between the two wires of ${name}; nothing on the track.`),
    expected: joined([...parts, ...stretched(s, name, output)], '. '),
    range: { reading: 'track', of: name, low, high },
    off: [
      said`About ${halfWave} on an AC range, with DC as well: half waves.`,
      plain(
        'If the meter is outside its frequency range here, that is not a fault of the station: trust the DC readings and the oscilloscope.',
      ),
    ],
    not: plain(
      'Do not set the supply by a pocket meter on the rails; measure the DC voltage of the supply instead.',
    ),
  }
}

/** What stretched zeros and a cut-out do to the readings. */
function stretched(s: BookSources, name: string, output: string): Said[] {
  const { figures: f } = s
  const source = ['power', 'districts', name, 'source', 'nominalVolt']
  const list: Said[] = []
  const zero = ['timers', output, 'zero', 'us']
  const dc = f.by('V', 'DC of a zero stretched to the end', source, zero, ['timers', output, 'longestZeroUs'])
  if (dc)
    list.push(
      said`Zeros stretched as far as the standard and this timer allow would put up to ${dc} of DC on the rails, which an AC range does not show`,
    )
  if (s.loaded.design.signal.outputs[output]?.cutout) {
    const rms = f.by(
      'V',
      'RMS with a cut-out',
      source,
      ['timers', output, 'one', 'us'],
      zero,
      ['design', 'signal', 'outputs', output, 'preamble'],
      ['clauses', 'cutout-start', 'sender', 'max'],
      ['clauses', 'cutout-end', 'sender', 'max'],
    )
    if (rms)
      list.push(
        said`With the cut-out after each packet a true-RMS meter shows about ${rms} while idle packets follow each other`,
      )
    else list.push(plain('The cut-out after each packet lowers all AC readings'))
  }
  return list
}

/** Only a terminator that the design has can be missing. */
function ringing({ plan }: BookSources, name: string): string {
  const runs = (plan?.runs ?? []).filter((r) => r.district === name)
  const apart = 'the wires run too far apart'
  if (runs.length === 0) return `${apart}, or the bus needs a terminator.`
  if (runs.some((r) => r.design.terminator)) return `its terminator is missing or wrong, or ${apart}.`
  return `${apart}. The design has no terminator; describe one, and prove the design again before you fit it.`
}

function scopeStep(s: BookSources, name: string, low: Figure, high: Figure): Step {
  const driver = s.stages.find((d) => d.name === name)!.driverName
  const slope = s.figures.at('', 'power', 'drivers', driver, 'slopeVoltPerUs')
  const edges = slope ? said`; edges as steep as ${slope} V/us at the driver` : plain('')
  return {
    id: `scope-${name}`,
    title: `District ${name}: the signal on an oscilloscope`,
    instrument: 'oscilloscope with two probes',
    probes: plain(
      `One probe on each wire of ${name}, both ground clips on − of the supply; show the first minus the second.`,
    ),
    expected: said`A square wave from plus to minus ${between(low, high)}, flat on top${edges}, short and long bits mixed`,
    range: { reading: 'peak', of: name, low, high },
    off: [
      plain('One polarity only: half waves, see the DC step.'),
      plain(`Ringing that lasts for microseconds on the bus: ${ringing(s, name)}`),
      plain('Tops that sag: the supply or the driver is limiting.'),
    ],
    not: EARTH,
  }
}
