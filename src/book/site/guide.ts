/** From a key press to a turning wheel, step by step along one packet of this station, for someone who has never seen one. */
import { between, joined, plain, type Said, said } from '../contents/figure.js'
import type { BookSources } from '../contents/sources.js'
import type { PacketEdges } from './packet-edges.js'

export interface GuideStep {
  title: string
  text: Said
  /** Name of the figure that shows it. */
  figure?: string
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
    ? said`The hand-held or the computer sends a short message over its line${latency ? said`; the station answers after ${latency}` : ''}.`
    : plain('A key, a knob or a computer tells the station.')
  return {
    title: 'A key is pressed',
    text: joined([
      plain(`Someone wants ${packet.train} to run at half speed.`),
      way,
      plain('Nothing has moved yet: the wish is a number in the memory of a small controller.'),
    ]),
  }
}

function bytesStep(packet: PacketEdges): GuideStep {
  return {
    title: 'The wish becomes three bytes',
    text: {
      text: `The controller writes the bytes ${packet.hex}. The first is the address: only the decoder with address ${packet.address} will listen. The second says what to do (${packet.says}). The third is the check: the exclusive or of the others, so that a decoder can tell a spoiled packet from a whole one.`,
      figures: [],
    },
    figure: 'packet',
  }
}

function bitsStep({ figures: f }: BookSources): GuideStep {
  const [ones, zeros] = [f.at('', 'packet', 'ones')!, f.at('', 'packet', 'zeros')!]
  return {
    title: 'The bytes become ones and zeros',
    text: said`A row of ones goes first, so that decoders find the beginning; a zero goes before each byte, and a one ends the packet. That makes ${ones} ones and ${zeros} zeros.`,
  }
}

function halfStep({ figures: f }: BookSources, packet: PacketEdges): GuideStep {
  const at = ['timers', packet.output] as const
  const [one, zero] = [f.at('us', ...at, 'one', 'us')!, f.at('us', ...at, 'zero', 'us')!]
  const [oneTicks, zeroTicks] = [f.at('', ...at, 'one', 'ticks')!, f.at('', ...at, 'zero', 'ticks')!]
  return {
    title: 'Each bit becomes two edges',
    text: said`A one is short: its pin is high for ${one} and low for ${one}. A zero is long: ${zero} and ${zero}. A timer counts ${oneTicks} or ${zeroTicks} of its ticks for each half, so that the edges come at the right moment whatever else the controller does.`,
    figure: 'half-bits',
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
      'The pin is far too weak for a train. The driver is a set of strong switches: while the pin is high it joins one rail to plus and the other to minus, while it is low the other way round.',
    ),
  ]
  if (volt) sentences.push(said`Between the rails there are always ${volt}, only their direction changes.`)
  if (slope) sentences.push(said`Each change is as steep as ${slope} V/us.`)
  const steps: GuideStep[] = [
    { title: 'Edges at the pin become power on the rails', text: joined(sentences), figure: 'power-stage' },
  ]
  const train = s.track?.trains.find((t) => t.name === packet.train) ?? s.track?.trains[0]
  if (train) {
    const at = ['track', 'trains', train.name] as const
    const [low, high] = [f.at('V', ...at, 'volt', 'low')!, f.at('V', ...at, 'volt', 'high')!]
    const amp = f.at('A', ...at, 'amp', 'high')!
    steps.push({
      title: 'Power and message travel together',
      text: said`${`Along bus, feeders and rails a little of the voltage is lost. At ${train.name}, on ${train.section}, `}${between(low, high)} are left while it draws ${amp}. The same two rails carry the power and the message.`,
      figure: 'map',
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
    text: said`The decoder in the locomotive measures the time between edges: short, short, long. After ${lasts} it has the whole packet. The address is its own, the check fits, so it keeps the new speed. It turns both directions of the rails into one direction for its motor, switches that on and off thousands of times a second for half speed, and the wheel turns. The station says the same again later, in case dirt on the rails swallowed it.`,
  }
}
