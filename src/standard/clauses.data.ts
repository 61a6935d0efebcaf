/**
 * The clauses. Every row says where its figures are from and how they are known: `confirmed` was seen in the
 * named document and section, `from memory` was not and should be checked against the current edition.
 */
import type { Clause, ClauseFacts, ClauseId, FactStatus, Limits, Source } from './clause.js'
import { CLAUSE_FACTS } from './clause-facts.data.js'
import type { Profile, ProfileChoice, ProfileId } from './profile.js'
import { buildRules } from './rules.data.js'
import { SCALES } from './scale.js'

type Choice = Required<ProfileChoice>
/** What depends on the profile. */
type Demand = Omit<Clause, keyof ClauseFacts>

function source(document: string, edition: string, section: string, status: FactStatus): Source {
  return { document, edition, section, status }
}

const PRACTICE = source('common practice', '', 'no source', 'common practice')

/** The text the half-bit windows are from, by profile. */
function timingSource(c: Choice, section: string, nem: string): Source {
  if (c.profile === 'nmra' && c.edition === '2020') return source('S-9.1', '2020', section, 'confirmed')
  if (c.profile === 'nmra') return source('S-9.1', '2006', 'A', 'confirmed')
  if (c.edition === '2013') return source('NEM 670', '2013', nem, 'from memory')
  return source('RCN-210', '2019', 'half-bit durations', 'from memory')
}

function edgeRate(c: Choice): { min: number; source: Source } {
  if (c.profile === 'nmra' && c.edition === '2020')
    return { min: 2.4, source: source('S-9.1', '2020', 'Table 2', 'confirmed') }
  if (c.profile === 'nmra') return { min: 2.5, source: source('S-9.1', '2006', 'B', 'from memory') }
  return { min: 2.5, source: source('NEM 670', '2013', '3.1.1', 'confirmed') }
}

interface VoltageRule {
  max: Limits
  min: Limits
  /** What decoders must withstand. */
  maxReceiver: { max: number }
  minReceiver?: Limits
  maxDemand: string
  maxSource: Source
  minSource: Source
  withstandSource: Source
}

/** Peak amplitude at the rails. The editions disagree: the choice decides, {@link rmsCeilingVolt} adds the RMS rule. */
function voltage(c: Choice): VoltageRule {
  const column = SCALES[c.scale].column
  if (c.profile === 'nmra' && c.edition === '2020') {
    const nominal = { small: 12, middle: 15, large: 18 }[column]
    const table = source('S-9.1', '2020', 'Table 3', 'confirmed')
    return {
      max: { nominal, max: 22 },
      min: { min: 8.5, nominal },
      maxReceiver: { max: column === 'small' ? 24 : 27 },
      minReceiver: { min: 7 },
      maxDemand: 'The peak voltage at the station output is at most 22 V.',
      maxSource: table,
      minSource: table,
      withstandSource: table,
    }
  }
  const old = c.profile === 'nmra'
  const document = old
    ? source('S-9.1', '2006', 'C', 'from memory')
    : source('NEM 670', '2013', '4.2', 'confirmed')
  return {
    max: { max: 22 },
    min: { min: old ? 7 : 8 },
    maxReceiver: { max: column === 'small' ? 24 : 27 },
    maxDemand: 'The peak voltage on the track is never above 22 V.',
    maxSource: document,
    minSource: document,
    withstandSource: old ? document : source('NEM 670', '2013', '4.2c, 4.2d', 'confirmed'),
  }
}

/**
 * Ceiling of the RMS track voltage, V, in the editions that have one.
 * @param c a profile, or the choice that makes one.
 */
export function rmsCeilingVolt(c: {
  profile: ProfileChoice['profile'] | string
  edition: string
  scale: ProfileChoice['scale']
  rules?: Profile['rules']
}): number | undefined {
  const { profile, edition, scale } = c
  const rules = c.rules ?? buildRules({ profile: profile as ProfileId, edition, scale, cutout: false })
  return rules['rms-ceiling']?.value
}

/** Preamble ones sent in operations; with the cut-out twelve complete ones must be left after the gap. */
function preamble(c: Choice): { min: number; source: Source } {
  const cutout = buildRules(c)['preamble-cutout']
  if (c.cutout && cutout) return { min: cutout.value, source: cutout.source }
  return { min: 14, source: source('S-9.2', '2004', 'A', 'confirmed') }
}

/** Every clause with its limits for one profile, edition and scale. */
export function buildClauses(c: Choice): Readonly<Record<ClauseId, Clause>> {
  const slope = edgeRate(c)
  const volts = voltage(c)
  const ones = preamble(c)
  const rms = rmsCeilingVolt(c)
  const voltageColumn = `${c.scale} scale`
  const list: Demand[] = [
    {
      id: 'one-half',
      title: 'half of a one bit',
      demand: 'Each half of a one bit lasts 55 to 61 us; decoders must accept 52 to 64 us.',
      symbol: 't1',
      unit: 'us',
      binds: 'station',
      sender: { min: 55, nominal: 58, max: 61 },
      receiver: { min: 52, nominal: 58, max: 64 },
      source: timingSource(c, 'Table 1', '2.1'),
    },
    {
      id: 'one-difference',
      title: 'halves of a one bit',
      demand: 'The two halves of a one bit differ by at most 3 us; decoders must accept 6 us.',
      symbol: 't1d',
      unit: 'us',
      binds: 'station',
      sender: { max: 3 },
      receiver: { max: 6 },
      source:
        c.profile === 'nmra'
          ? source(
              'S-9.1',
              c.edition,
              c.edition === '2020' ? 'Table 1' : 'A',
              c.edition === '2020' ? 'confirmed' : 'from memory',
            )
          : timingSource(c, 'Table 1', '2.1'),
    },
    {
      id: 'zero-half',
      title: 'half of a zero bit',
      demand: 'Each half of a zero bit lasts 95 to 9900 us; decoders must accept 90 to 10000 us.',
      symbol: 't0',
      unit: 'us',
      binds: 'station',
      sender: { min: 95, nominal: 100, max: 9900 },
      receiver: { min: 90, nominal: 100, max: 10000 },
      source:
        c.profile === 'rcn' && c.edition === '2013'
          ? source('NEM 670', '2013', '2.2', 'confirmed')
          : timingSource(c, 'Table 1', '2.2'),
    },
    {
      id: 'zero-total',
      title: 'whole zero bit',
      demand: 'A stretched zero bit lasts at most 12000 us in all.',
      symbol: 't0total',
      unit: 'us',
      binds: 'station',
      sender: { max: 12000 },
      source:
        c.profile === 'rcn' && c.edition === '2013'
          ? source('NEM 670', '2013', '2.2c', 'confirmed')
          : c.profile === 'nmra' && c.edition === '2006'
            ? source('S-9.1', '2006', 'A', 'from memory')
            : timingSource(c, 'Table 1', '2.2c'),
    },
    {
      id: 'glitch',
      title: 'no stray edges',
      demand: 'No interval between two edges is too short to be half of any bit.',
      unit: 'intervals',
      binds: 'station',
      sender: { max: 0 },
      source: source('S-9.1', '2020', 'Table 1', 'derived'),
    },
    {
      id: 'edge-rate',
      title: 'slope of the edges',
      demand: `Between -4 V and +4 V the signal moves by at least ${slope.min} V/us; decoders must accept 2 V/us.`,
      unit: 'V/us',
      binds: 'station',
      sender: { min: slope.min },
      receiver: { min: 2 },
      source: slope.source,
    },
    {
      id: 'crossing-distortion',
      title: 'clean zero crossing',
      demand: 'Non-monotonic distortion at a zero crossing stays within 2 V.',
      unit: 'V',
      binds: 'station',
      sender: { max: 2 },
      source:
        c.profile === 'nmra'
          ? source('S-9.1', c.edition, 'B', c.edition === '2020' ? 'confirmed' : 'from memory')
          : source('NEM 670', '2013', '3.1.1', 'confirmed'),
    },
    {
      id: 'track-voltage-max',
      title: 'highest track voltage',
      demand: `${volts.maxDemand}${rms === undefined ? '' : ` Its RMS value is at most ${rms} V.`} (${voltageColumn})`,
      unit: 'V',
      binds: 'station',
      sender: volts.max,
      receiver: volts.maxReceiver,
      source: volts.maxSource,
    },
    {
      id: 'track-voltage-min',
      title: 'lowest track voltage',
      demand: `The peak voltage at the track is at least ${volts.min.min} V. (${voltageColumn})`,
      unit: 'V',
      binds: 'station',
      sender: volts.min,
      receiver: volts.minReceiver,
      source: volts.minSource,
    },
    {
      id: 'decoder-withstand',
      title: 'peak at the decoder',
      demand: `With the overshoot of its edges the peak at the track stays within the ${volts.maxReceiver.max} V that decoders must withstand. (${voltageColumn})`,
      unit: 'V',
      binds: 'builder',
      sender: volts.maxReceiver,
      source: volts.withstandSource,
    },
    {
      id: 'preamble',
      title: 'preamble',
      demand: `At least ${ones.min} ones precede a packet, 20 in service mode; decoders must accept 12.`,
      unit: 'bits',
      binds: 'station',
      sender: { min: ones.min },
      receiver: { min: 12 },
      inService: { min: 20 },
      source: ones.source,
    },
    {
      id: 'packet-length',
      title: 'length of a packet',
      demand:
        'A packet has 3 to 6 bytes including its error byte (more only with a first byte of 253 or 254).',
      unit: 'bytes',
      binds: 'station',
      sender: { min: 3, max: 6 },
      source: source('S-9.2.1', '2012', 'intro', 'confirmed'),
    },
    {
      id: 'error-byte',
      title: 'error byte',
      demand: 'The last byte is the exclusive-or of all bytes before it.',
      unit: 'packets',
      binds: 'station',
      sender: { max: 0 },
      source: source('S-9.2', '2004', 'B', 'confirmed'),
    },
    {
      id: 'framing',
      title: 'shape of a packet',
      demand: 'A zero starts every byte, a one ends the packet, and no packet is cut short.',
      unit: 'packets',
      binds: 'station',
      sender: { max: 0 },
      source: source('S-9.2', '2004', 'A, C', 'confirmed'),
    },
    {
      id: 'instruction',
      title: 'defined instructions',
      demand: 'Packets carry no bytes that the standards leave undefined or reserve.',
      unit: 'packets',
      binds: 'station',
      sender: { max: 0 },
      source: source('S-9.2.1', '2012', 'A, C, D', 'confirmed'),
    },
    {
      id: 'same-address-gap',
      title: 'packets to one address',
      demand:
        c.profile === 'nmra'
          ? 'In operations mode, two packets to the same address from 112 to 127 are at least 5 ms apart.'
          : 'From the end bit of a packet to the start bit of the next one to the same address there are at least 5 ms.',
      unit: 'us',
      binds: 'station',
      sender: { min: 5000 },
      ...(c.profile === 'nmra'
        ? { source: source('S-9.2', '2004', 'note 11', 'confirmed') }
        : { source: source('RCN-211', '2019', 'time between packets', 'from memory'), unbound: true }),
    },
    {
      id: 'packet-interval',
      title: 'time between packets',
      demand: 'Start bits of successive packets are at most 30 ms apart.',
      unit: 'us',
      binds: 'station',
      sender: { max: 30000 },
      source:
        c.profile === 'nmra'
          ? source('S-9.2', '2004', 'C', 'confirmed')
          : source('NEM 671', '2014', '5.2', 'confirmed'),
    },
    {
      id: 'refresh',
      title: 'refresh of each address',
      demand: 'Every address in use is sent its state again before its packet time-out.',
      unit: 'us',
      binds: 'builder',
      sender: {},
      source: source('S-9.2.2', '2012', 'CV11', 'confirmed'),
    },
    {
      id: 'command-latency',
      title: 'latency of commands',
      demand: 'Of each kind of command, 95 of 100 are heard within the time that the design asks for.',
      unit: 'us',
      binds: 'builder',
      sender: {},
      source: PRACTICE,
    },
    {
      id: 'stopping-distance',
      title: 'trains stop inside',
      demand: 'At least the share of trains that the design asks for stops inside each block or platform.',
      unit: 'share',
      binds: 'builder',
      sender: {},
      source: PRACTICE,
    },
    {
      id: 'service-sequence',
      title: 'service-mode sequence',
      demand: 'Service-mode operations consist of the packets that the standard lists, in its order.',
      unit: 'operations',
      binds: 'station',
      sender: { max: 0 },
      source: source('S-9.2.3', '2012', 'E', 'confirmed'),
    },
    {
      id: 'cutout-start',
      title: 'start of the cut-out',
      demand: 'The cut-out starts 26 to 32 us after the last edge of the end bit.',
      symbol: 'TCS',
      unit: 'us',
      binds: 'station',
      sender: { min: 26, max: 32 },
      source: source('RCN-217', '2019', '2.4', 'from memory'),
    },
    {
      id: 'cutout-end',
      title: 'end of the cut-out',
      demand: 'The cut-out ends 454 to 488 us after the last edge of the end bit.',
      symbol: 'TCE',
      unit: 'us',
      binds: 'station',
      sender: { min: 454, max: 488 },
      source: source('RCN-217', '2019', '2.4', 'from memory'),
    },
    ...practice(c),
  ]
  return Object.fromEntries(
    list.map((demand) => [demand.id, { ...demand, ...CLAUSE_FACTS[demand.id] }]),
  ) as Record<ClauseId, Clause>
}

/** Rules of sound practice: what a builder owes to the parts and to the people around them. */
function practice(c: Choice): Demand[] {
  const unbound = c.profile === 'nmra' ? {} : ({ unbound: true } as const)
  const rows: [ClauseId, string, string, string, Limits][] = [
    [
      'short-trip',
      'a short trips in time',
      'A short at any place trips its district before anything is harmed, and power can return when it has gone.',
      'us',
      {},
    ],
    [
      'short-current',
      'a short draws enough',
      'A short at any place draws more than the trip current of its district.',
      'share',
      { min: 1 },
    ],
    [
      'voltage-drop',
      'voltage at the far end',
      'At the worst place under the planned load decoders still have their minimum voltage.',
      'V',
      {},
    ],
    [
      'driver-current',
      'driver current',
      'The driver carries no more than its continuous rating.',
      'share',
      { max: 1 },
    ],
    ['driver-heat', 'driver heat', "The driver's junction stays below its maximum temperature.", '°C', {}],
    [
      'supply-current',
      'supply current',
      'The supply carries the planned load and can exceed the trip current.',
      'share',
      { max: 1 },
    ],
    ['polarity', 'polarity', 'No route joins a rail to its opposite without gaps.', 'routes', { max: 0 }],
    ['pin-current', 'pin current', 'No controller pin carries more than its rating.', 'share', { max: 1 }],
    ['pin-conflict', 'pins', 'No controller pin serves two purposes.', 'pins', { max: 0 }],
    [
      'regulator-heat',
      'regulator heat',
      "The controller's regulator stays inside its rating.",
      'share',
      { max: 1 },
    ],
    [
      'joint-heat',
      'joint heat',
      'No joiner, connector or terminator gets hotter than allowed at the highest current that can keep flowing.',
      'share',
      { max: 1 },
    ],
    [
      'sense-stress',
      'sense under a short',
      'In a short, and just below the trip current, shunt and converter pin stay within their ratings.',
      'share',
      { max: 1 },
    ],
    [
      'fuse',
      'fuse',
      'The fuse carries the load, opens in a short that its wires cannot carry continuously, and can interrupt it.',
      'share',
      { max: 1 },
    ],
    [
      'inrush',
      'inrush',
      'At power-up and after every trip the capacitors charge without harm and without another trip.',
      'share',
      { max: 1 },
    ],
    [
      'gap-bridging',
      'a wheel across a gap',
      'A wheel across any gap does no harm, whichever sides it joins.',
      'share',
      { max: 1 },
    ],
    [
      'isolation',
      'isolation',
      'Outputs of different drivers or supplies are not joined anywhere, except where that is allowed.',
      'joints',
      { max: 0 },
    ],
    [
      'dead-level',
      'a dead controller',
      'While the controller is in reset, booting or being flashed, its outputs put no steady voltage on the rails.',
      'outputs',
      { max: 0 },
    ],
    [
      'logic-level',
      'logic levels',
      "The controller's output levels lie beyond the thresholds of the driver's inputs.",
      'V',
      { min: 0 },
    ],
    ['stack', 'stack', 'The stack stays clear of the data.', 'bytes', { min: 0 }],
    ['restart', 'restarts', 'The program does not restart unless it is made to.', 'restarts', { max: 0 }],
    [
      'instruction-set',
      'instructions',
      'The program executes only what the chip implements, where the chip has memory.',
      'faults',
      { max: 0 },
    ],
    [
      'interrupts',
      'interrupts',
      'Every enabled interrupt has a handler, and none is lost.',
      'interrupts',
      { max: 0 },
    ],
    [
      'deadline',
      'deadlines',
      'Every compare value is loaded, and every interrupt that makes an edge begins, before it is too late.',
      'us',
      { min: 0 },
    ],
    [
      'shared-data',
      'shared data',
      'No interrupt changes a value of several bytes while the program is reading or writing it.',
      'values',
      { max: 0 },
    ],
  ]
  /** Rules of sound practice that a published standard stands behind. */
  const SOURCES: Partial<Record<ClauseId, Source>> = {
    fuse: source(
      'IEC 60127-2',
      '2014',
      'sheet 3; overcurrent by the supply: IEC 60364-4-43, 436',
      'from memory',
    ),
    'sense-stress': source('IEC 60115-1', '2008', 'short-time overload', 'from memory'),
  }
  const clauses = rows.map(([id, title, demand, unit, sender]): Demand => {
    return { id, title, demand, unit, binds: 'builder', sender, source: SOURCES[id] ?? PRACTICE }
  })
  clauses.push({
    id: 'conductor-heat',
    title: 'conductor heat',
    demand:
      'No wire or rail gets hotter than 70 °C, the limit of PVC insulation in service, at the highest current that can keep flowing.',
    unit: '°C',
    binds: 'builder',
    sender: { max: 70 },
    source: source('IEC 60364-5-52', '2009', 'Table 52.1', 'from memory'),
  })
  clauses.push({
    id: 'ack-detect',
    title: 'acknowledgement seen',
    demand: 'An acknowledgement of 60 mA for 5 to 7 ms is distinguished from noise.',
    unit: 'share',
    binds: 'station',
    sender: {},
    source: source('S-9.2.3', '2012', 'D', 'confirmed'),
  })
  clauses.push(
    {
      id: 'interruption',
      title: 'track power without a break',
      demand:
        'Track power is missing only between an end bit and the next preamble, or where a trip, a switch-off or a power cycle is known.',
      unit: 'stretches',
      binds: 'station',
      sender: { max: 0 },
      source: source('S-9.2', '2004', 'C', 'confirmed'),
    },
    {
      id: 'start-up',
      title: 'start of the station',
      demand: 'When track power is applied and no state was saved, 20 resets and then 10 idles come first.',
      unit: 'packets',
      binds: 'station',
      // What is missing of the resets and idles.
      sender: { max: 0 },
      source: source('RP-9.2.4', '', 'A', 'confirmed'),
      ...unbound,
    },
    {
      id: 'reset-guard',
      title: 'time after a reset',
      demand:
        'For 20 ms after a reset no packet has a first byte of 100 to 127, unless service mode is entered.',
      unit: 'us',
      binds: 'station',
      sender: { min: 20000 },
      source:
        c.profile === 'nmra'
          ? source('S-9.2', '2004', 'B', 'confirmed')
          : source('RCN-211', '2019', 'reset', 'from memory'),
      ...unbound,
    },
    {
      id: 'service-current',
      title: 'current on a service track',
      demand: 'The current on a service track does not exceed 250 mA for longer than 100 ms.',
      unit: 'us',
      binds: 'station',
      sender: { max: 100000 },
      source: source('S-9.2.3', '2012', 'B', 'confirmed'),
    },
  )
  return clauses
}
