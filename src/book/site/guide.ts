/** From a key press to a turning wheel, step by step along one packet of this station, for someone who has never seen one. */
import type { TimerOption } from '../../controller/index.js'
import { between, joined, plain, type Said, said } from '../contents/figure.js'
import type { BookSources } from '../contents/sources.js'
import type { PacketEdges } from './packet-edges.js'

const BY_ITSELF =
  'The timer changes the pin itself, so the edges, the changes between high and low, come at the right moment even while the controller is busy with something else.'

export interface GuideStep {
  title: string
  text: Said
  /** Names of figures that show it: the first that there is. */
  figures?: readonly string[]
}

export function guide(s: BookSources, packet: PacketEdges): GuideStep[] {
  return [
    keyStep(s, packet),
    bytesStep(packet),
    bitsStep(s),
    halfStep(s, packet),
    ...railSteps(s, packet),
    lastStep(s, packet),
  ]
}

function keyStep({ figures: f, loaded }: BookSources, packet: PacketEdges): GuideStep {
  const latency = f.at('us', 'design', 'traffic', 'link', 'replyAfter')
  const link = loaded.design.traffic?.link
  const way = link
    ? said`A hand-held control or a computer sends a short message to the station over a cable${latency ? said`; the station answers after ${latency}` : ''}.`
    : plain('A key, a knob or a computer passes this on to the station.')
  return {
    title: 'A key is pressed',
    text: joined([
      plain(
        `Someone at the layout wants ${packet.named ? `the locomotive ${packet.train}` : packet.train} to run at half speed.`,
      ),
      way,
      plain(
        'Nothing has moved yet: the new speed is only a number in the memory of the station’s controller, a small computer on one chip.',
      ),
    ]),
  }
}

function bytesStep(packet: PacketEdges): GuideStep {
  return {
    title: 'The order becomes a packet of three bytes',
    text: {
      text: `The controller writes a packet, a short message to one locomotive: the bytes ${packet.hex}. A byte is a group of eight bits, and a bit is a one or a zero; here each byte is written as two digits to the base sixteen. The first byte is the address: every locomotive receives the packet, but only the one whose decoder has address ${packet.address} obeys it. The second says what to do (${packet.says}). The third is a check byte. It is made from the other two, and the decoder makes it again: if the two differ, the packet was damaged on its way and is ignored.`,
      figures: [],
    },
    figures: ['packet'],
  }
}

function bitsStep({ figures: f }: BookSources): GuideStep {
  const [ones, zeros] = [f.at('', 'packet', 'ones')!, f.at('', 'packet', 'zeros')!]
  return {
    title: 'The bytes become a series of ones and zeros',
    text: said`The bytes are sent one bit after the other. A run of ones, the preamble, goes first, so that decoders can find the beginning; a zero goes before each byte, and a one ends the packet. Altogether that makes ${ones} ones and ${zeros} zeros.`,
  }
}

/** What makes an edge, the change between high and low, and what may delay it. */
const AT_ITS_MOMENT: Readonly<Record<TimerOption['method'], string>> = {
  toggle: BY_ITSELF,
  buffered: BY_ITSELF,
  fed: BY_ITSELF,
  interrupt:
    'At the end of each count the program is interrupted and changes the pin, so an edge, the change between high and low, comes a little late whenever the controller cannot be interrupted at once.',
}

function halfStep({ figures: f, timers }: BookSources, packet: PacketEdges): GuideStep {
  const at = ['timers', packet.output] as const
  const [one, zero] = [f.at('us', ...at, 'one', 'us')!, f.at('us', ...at, 'zero', 'us')!]
  const [oneTicks, zeroTicks] = [f.at('', ...at, 'one', 'ticks')!, f.at('', ...at, 'zero', 'ticks')!]
  const { method } = timers.get(packet.output)!.option!
  return {
    title: 'Each bit becomes a short or a long pulse',
    text: said`The signal leaves the controller at one of its pins, which is either high, at the voltage of the controller, or low, at zero. A one is short: the pin is high for ${one} and then low for ${one}. A zero is long: ${zero} high and ${zero} low. Only this length tells them apart. A timer, a counter inside the chip that runs by itself, counts ${oneTicks} ticks of its clock for each half of a one and ${zeroTicks} for each half of a zero. ${AT_ITS_MOMENT[method]} The figure shows both halves in the range that the standard allows.`,
    figures: ['half-bits'],
  }
}

function railSteps(s: BookSources, packet: PacketEdges): GuideStep[] {
  const { figures: f } = s
  const stage = s.stages.find((d) => d.output === packet.output)
  if (!stage) return []
  const source = ['power', 'districts', stage.name, 'source'] as const
  const volt = f.at('V', ...source, 'nominalVolt')
  const slope = f.at('', 'power', 'drivers', stage.driverName, 'slopeVoltPerUs')
  const sentences: Said[] = [
    plain(
      'The pin is far too weak to move a train. It only steers the driver, a set of four strong electronic switches between the supply and the rails. While the pin is high, one rail is connected to plus and the other to minus; while it is low, they are exchanged.',
    ),
  ]
  const { cutout } = s.loaded.design.signal.outputs[packet.output]!
  const gaps = cutout
    ? ' Only after each packet there is a short gap without voltage, in which a decoder may answer.'
    : ''
  if (volt)
    sentences.push(
      said`Between the rails there are always ${volt}, less small losses; only the polarity changes.${gaps}`,
    )
  if (slope) sentences.push(said`Each change is fast: ${slope} V in a microsecond.`)
  const steps: GuideStep[] = [
    {
      title: 'Edges at the pin become power on the rails',
      text: joined(sentences),
      figures: ['driver', 'power-stage'],
    },
  ]
  const train = s.track?.trains.find((t) => t.name === packet.train) ?? s.track?.trains[0]
  if (train) {
    const at = ['track', 'trains', train.name] as const
    const [low, high] = [f.at('V', ...at, 'volt', 'low')!, f.at('V', ...at, 'volt', 'high')!]
    const amp = f.at('A', ...at, 'amp', 'high')!
    steps.push({
      title: 'Power and message travel together',
      text: said`${`On the way through the wires under the layout (bus and feeders) and through the rails a little of the voltage is lost. Of what the station gives, ${train.name} on ${train.section} still gets `}${between(low, high)} while it draws ${amp}. The same two rails carry the power for all trains and the messages to them.`,
      figures: ['map'],
    })
  }
  return steps
}

function lastStep({ figures: f }: BookSources, _packet: PacketEdges): GuideStep {
  const lasts = f.by(
    'us',
    'time of a packet',
    ['packet', 'ones'],
    ['packet', 'zeros'],
    ['packet', 'oneUs'],
    ['packet', 'zeroUs'],
  )!
  return {
    title: 'A decoder reads, and a wheel turns',
    text: said`The decoder, a small circuit in the locomotive between its wheels and its motor, measures the time from one edge to the next: short for a one, long for a zero. After ${lasts} it has the whole packet. The address is its own and the check byte is right, so it stores the new speed. A rectifier in it makes direct current of the changing polarity. For half speed the decoder switches the motor on and off thousands of times a second, and the wheel turns. The station sends the packet again from time to time, in case dirt on the rails kept it from the decoder.`,
  }
}
