/** With the track connected: the resistor, the coin, the first trains, the service track. */
import { between, joined, plain, type Said, said } from '../contents/figure.js'
import { addressOf } from '../contents/locomotives.js'
import type { BookSources } from '../contents/sources.js'
import { command, switchOn } from './commands.js'
import type { Step } from './step.js'
import { noTripStep } from './stop.js'

/** Without locomotives. */
export function trackSteps(s: BookSources): Step[] {
  return s.stages.flatMap(({ name }) => [...resistorStep(s, name), ...coinStep(s, name)])
}

export function trainSteps(s: BookSources): Step[] {
  return [
    ...Object.keys(s.loaded.design.rollingStock ?? {}).flatMap((name) => trainStep(s, name)),
    ...s.stages.flatMap(({ name }) => weakestStep(s, name)),
    ...[...new Set(s.stages.map((d) => d.driverName))].flatMap((name) => heatStep(s, name)),
    ...s.stages.flatMap(({ name }) => ackStep(s, name)),
  ]
}

/** The trip with a resistor at the station, before anything is shorted: one that must trip and one that must not. */
function resistorStep(s: BookSources, name: string): Step[] {
  const { figures: f } = s
  const source = ['power', 'districts', name, 'source'] as const
  const trip = ['power', 'districts', name, 'trip'] as const
  const trips = f.by(
    'Ohm',
    'resistor that draws a current',
    [...source, 'lowVolt'],
    [...source, 'dropVolt'],
    [...trip, 'highAmp'],
    [...source, 'ohm'],
  )
  const holds = f.by('Ohm', 'ratio', [...source, 'highVolt'], [...trip, 'lowAmp'])
  const watt = f.by('W', 'product', [...source, 'highVolt'], [...trip, 'highAmp'])
  const [low, high] = [f.at('A', ...trip, 'lowAmp'), f.at('A', ...trip, 'highAmp')]
  if (!trips || !holds || !watt || !low || !high || !(trips.value > 0) || !Number.isFinite(high.value))
    return []
  return [
    {
      id: `resistor-${name}`,
      title: `District ${name}: the trip, with a resistor`,
      instrument:
        'two wire-wound resistors, one below and one above the two values of the step, and what shows a trip',
      probes: said`${`At the station, between the two wires of ${name}${tripper(s, name) === 'breaker' ? ' behind its breaker' : ''}, no locomotive on the rails. Clip a resistor to one wire and touch the other wire with its free end: first one that is not below `}${holds}, then one that is not above ${trips}, their tolerances included, each for a second at most. They dissipate up to about ${watt}: take them rated for that, or for a second of it by their data sheet. ${showsTrip(s, name)}`,
      expected: said`The first does not trip it, the second does: the trip current is ${between(low, high)}`,
      off: [
        plain(`Neither trips, or the second not at once: take it away. ${NEVER[tripper(s, name)]}`),
        plain(`Both trip: ${ALWAYS[tripper(s, name)]}`),
      ],
      not: plain(
        'Do not go on to the coin test until the second resistor trips the district. Lay the resistors on something that does not burn, and do not touch them afterwards.',
      ),
    },
  ]
}

function isServiceTrack(s: BookSources, name: string): boolean {
  const output = s.stages.find((d) => d.name === name)?.output ?? ''
  return s.loaded.design.signal.outputs[output]?.mode === 'service'
}

type Tripper = 'sense' | 'breaker' | 'driver'

/** What ends a short in a district. */
function tripper({ loaded }: BookSources, name: string): Tripper {
  return loaded.design.power!.districts[name]!.trip?.by ?? 'sense'
}

const NEVER: Readonly<Record<Tripper, string>> = {
  sense: 'The sense, its reference or gain, or the trip count is wrong, or something bridges the shunt.',
  breaker: 'The breaker is set to another current, or wired so that the current goes round it.',
  driver: 'The driver limits at another current than its data sheet says, or a pin of it sets that current.',
}
const ALWAYS: Readonly<Record<Tripper, string>> = {
  sense: 'a reference that is too low, a sense resistor that is too large, or noise.',
  breaker: 'the breaker is set to another current.',
  driver: 'a pin of the driver sets another current, or the driver is hot.',
}
const LATE: Readonly<Record<Tripper, string>> = {
  sense: 'more samples in a row than planned, a filter too slow, or the supply sags first',
  breaker: 'the breaker is set to another time, or the supply sags first',
  driver: 'the driver first limits, or the supply sags first',
}

/** Where a trip can be timed; a coin lies across both rails meanwhile. */
const WATCH: Readonly<Record<Tripper, string>> = {
  sense:
    'Watch the enable pin of its driver: ground clip on GND of the controller, never on a rail. Without such a pin, watch an input.',
  breaker:
    'One probe before the breaker and one behind it, both ground clips on − of the supply; show their difference: next to nothing until the breaker opens, the whole square wave afterwards. Its light shows that it tripped, not when.',
  driver:
    'One probe on each output of the driver, both ground clips on − of the supply: both are quiet when it has switched off.',
}

/** Whether the firmware is the starter’s, whole: of a chip that is calculated only, the builder writes what trips. */
const isStarter = (s: BookSources) =>
  s.loaded.design.firmware === undefined && s.starter?.plan.chip !== undefined

/** What tells without a doubt that a district is off. */
function showsTrip(s: BookSources, name: string): string {
  const by = tripper(s, name)
  if (by === 'breaker') return 'The light of the breaker shows a trip.'
  const says = by === 'sense' && isStarter(s) ? ', and the starter firmware says “short on …”' : ''
  return `A DC meter from a wire of ${name} to − shows a trip: half of the voltage before, nothing after it${says}.${by === 'sense' ? ` To go on: ${switchOn(s, isServiceTrack(s, name))}.` : ''}`
}

const sectionOf = (place: string) => place.split(', ')[0]!

function coinStep(s: BookSources, name: string): Step[] {
  const { figures: f } = s
  const short = ['power', 'districts', name, 'short'] as const
  const late = f.at('us', ...short, 'leastTripUs') ?? f.at('us', ...short, 'tripUs')
  const soon = f.at('us', ...short, 'soonestUs')
  if (s.power?.districts.find((d) => d.name === name)?.trip === undefined) return [noTripStep(name)]
  if (!late || !soon || !Number.isFinite(late.value)) return []
  const place = s.track?.districts.find((d) => d.name === name)?.weakestShortPlace
  const amps = place
    ? [
        f.at('A', 'track', 'districts', name, 'weakestShort', 'low'),
        f.at('A', 'track', 'districts', name, 'weakestShort', 'high'),
      ]
    : [f.at('A', ...short, 'leastAmp'), f.at('A', ...short, 'amp')]
  const [least, most] = amps
  const current = least && most ? said`, at ${between(least, most)} until then` : plain('')
  const slow = f.by('us', 'twice', [...short, 'leastTripUs'])
  const by = tripper(s, name)
  const [retry, times] = [f.at('us', 'starter', 'retryUs'), f.at('', 'starter', 'retries')]
  const again =
    by !== 'sense'
      ? plain(', and on again only as the breaker or the driver does it')
      : retry && times && isStarter(s) && !isServiceTrack(s, name)
        ? said`, and on again after ${retry}; the starter firmware tries ${times} times, then it stays off. Take the coin away before`
        : plain(', and on again only as the firmware does it')
  return [
    {
      id: `coin-${name}`,
      title: `District ${name}: the coin test, where a short is weakest`,
      instrument: `a coin, and ${by === 'sense' ? 'an oscilloscope or a logic analyser' : 'an oscilloscope with two probes'} for the time`,
      probes: plain(
        `Across both rails at ${place ?? 'the farthest place'}, all locomotives off. ${WATCH[by]}`,
      ),
      expected: said`Off after ${between(soon, late)}${current}${again}`,
      range: {
        reading: 'trip',
        of: name,
        low: soon,
        high: late,
        ...(place === undefined ? {} : { at: sectionOf(place) }),
      },
      off: [
        plain(
          `It never trips: take the coin away at once. A wire is too thin or a joiner too poor for the current, or nothing watches it. ${NEVER[by]}`,
        ),
        plain(
          'It trips at the station but not here: too much resistance on the way there and back. Measure the voltage under load along the way.',
        ),
        ...(slow
          ? [
              said`It takes longer than ${late}, such as ${slow}: ${LATE[by]}.`,
              said`It takes less than ${soon}: ${by === 'sense' ? 'fewer samples than planned, or noise' : 'another setting than the design’s'}; capacitors that charge in a train will trip it, too.`,
            ]
          : []),
      ],
      not: plain(
        'Do not hold the coin for longer than a second, do not bridge or enlarge the fuse, and do not touch the coin or the driver after a test: both may be hot.',
      ),
    },
  ]
}

function trainStep(s: BookSources, name: string): Step[] {
  const { figures: f } = s
  const stock = ['design', 'rollingStock', name] as const
  const low = f.at('A', 'track', 'trains', name, 'amp', 'low')
  const high = f.at('A', 'track', 'trains', name, 'amp', 'high')
  if (!low || !high) return []
  const stall = f.at('A', ...stock, 'stall')
  const stop = command(s, 'stop')
  const section = s.track?.trains.find((t) => t.name === name)?.section
  const district = s.track?.sections.find((x) => x.name === section)?.district
  return [
    {
      id: `train-${name}`,
      title: `${name}, running by itself`,
      instrument: 'DC meter in the plus lead of the supply, before the driver',
      probes: joined([
        plain(
          `Unplug the supply${district === undefined ? '' : ` of district ${district}`}, put the meter in series with its +, and plug it in again; only ${name} on the track${section === undefined ? '' : `, on ${section}`}.`,
        ),
        ...driveWords(s, name),
        ...(stop === undefined
          ? []
          : [plain(`Have “${stop}” typed and ready before it moves, and begin slowly.`)]),
        plain('Subtract what the driver draws without a locomotive.'),
      ]),
      expected: said`About ${between(low, high)} at the speed for which its current was noted in the design`,
      range: { reading: 'current', of: name, low, high },
      off: [
        stall
          ? said`Well above that, up to ${stall}: the gear binds, or the motor is stalled. Stop it.`
          : plain('Much more: the motor is stalled or the gear binds.'),
        plain(
          'Almost nothing: dirty wheels or rails, a decoder with another address, or one that is asleep.',
        ),
      ],
      not: plain(
        'Do not measure current with the meter across the rails or the supply: in its ampere range it is a short. Put its leads back into the voltage sockets afterwards.',
      ),
    },
  ]
}

/** The command with the address of this locomotive, where the design gives it. */
function driveWords(s: BookSources, name: string): Said[] {
  const drive = command(s, 'speed')
  if (drive === undefined) return []
  const address = addressOf(s, name)
  const [before, after] = drive.split('ADDRESS')
  if (!address || after === undefined) return [plain(`To drive it: ${drive}.`)]
  return [said`To drive it: ${before!}${address}${after}.`]
}

function weakestStep(s: BookSources, name: string): Step[] {
  const { figures: f } = s
  const at = ['track', 'districts', name] as const
  const place = s.track?.districts.find((d) => d.name === name)?.worstVoltPlace
  const [low, high] = [f.at('V', ...at, 'worstVolt', 'low'), f.at('V', ...at, 'worstVolt', 'high')]
  const amp = f.at('A', ...at, 'loadAmp', 'high')
  if (!low || !high || !amp || amp.value === 0 || place === undefined || place === '') return []
  return [
    {
      id: `far-${name}`,
      title: `District ${name} with its trains: the voltage where it is lowest`,
      instrument: 'oscilloscope with two probes, or a true-RMS meter specified to 50 kHz or more',
      probes: plain(`Between the rails at ${place}, all trains running where the design has them.`),
      expected: said`${between(low, high)} with ${amp} flowing`,
      off: [
        plain(
          'Lower: a poor joiner or a feeder that is not connected on the way; look for the joint with the largest voltage step.',
        ),
        plain(
          'Much lower only while a train is there: dirty rails, or a train that draws more than the design says.',
        ),
      ],
      not: plain(
        'Do not cure a weak place with a higher supply voltage: the decoders near the station would get all of it.',
      ),
    },
  ]
}

function heatStep({ figures: f }: BookSources, name: string): Step[] {
  const at = ['power', 'drivers', name] as const
  const [junction, ambient] = [f.at('°C', ...at, 'junctionC'), f.at('°C', ...at, 'ambientC')]
  if (!junction || !ambient) return []
  return [
    {
      id: `heat-${name}`,
      title: `Driver ${name}: warm after half an hour`,
      instrument: 'thermometer: a thermocouple, or an infrared one on a mat black spot',
      probes: plain(
        `On the package of driver ${name}, or on its heat sink, in its enclosure, after its trains have run for half an hour.`,
      ),
      expected: said`Below ${junction} with air at ${ambient} around the case: that is the chip inside at the worst planned load, and its package is cooler`,
      off: [
        plain('Hotter: less air, less copper or a smaller heat sink than the design assumes, or more load.'),
        plain(
          'Hotter without any train: its two half-bridges are on at once, or something on the track draws current.',
        ),
      ],
      not: plain(
        'Do not test it with a finger. Do not run it for longer, or in a smaller enclosure, than you have tested.',
      ),
    },
  ]
}

function ackStep(s: BookSources, name: string): Step[] {
  const { figures: f } = s
  const ack = ['design', 'power', 'districts', name, 'acknowledgement'] as const
  const threshold = f.at('A', ...ack, 'threshold')
  const pulse = f.at('A', 'standard', 'ackAmp')
  const soon = f.at('us', 'standard', 'ackShortestUs')
  if (!s.loaded.design.power?.districts[name]?.acknowledgement || !pulse || !soon) return []
  const least = f.at('A', ...ack, 'quiescent')
  const ask = command(s, 'read') ?? command(s, 'verify')
  return [
    {
      id: `ack-${name}`,
      title: `District ${name}: an acknowledgement`,
      instrument: 'oscilloscope across the sense resistor, ground clip on its end at GND of the controller',
      probes: plain(
        `One locomotive on the service track, the only one. Switch it on: ${switchOn(s, isServiceTrack(s, name))}. Then ask for a CV that is known, such as CV 8${ask === undefined ? '' : `: ${ask}`}.`,
      ),
      expected: joined(
        [
          said`A rise of ${pulse} or more for ${soon} or a little longer (S-9.2.3:2012 D)`,
          ...(threshold ? [said`well above the threshold of ${threshold}`] : []),
          ...(least ? [said`from about ${least} at rest`] : []),
        ],
        ', ',
      ),
      off: [
        plain('A rise that the scope shows but the firmware does not see: threshold, gain or reference.'),
        plain(
          'No rise at all: no decoder, dirty wheels, or a motor with too high a resistance; try another locomotive.',
        ),
      ],
      not: plain(
        'Do not raise the current limit of the service track to force an answer: it protects a decoder that is wired wrongly.',
      ),
    },
  ]
}
