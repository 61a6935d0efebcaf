/** What this room has to say, as codes with parameters. */
import { findingTable } from '../finding/index.js'
import { formatNumber, formatTimeUs } from '../units/index.js'
import { jointInWords } from './heat/joint-words.js'
import { shorten, spanText } from './words.js'

const n3 = (value: number) => formatNumber(value, 3)
const sides = ([a, b]: readonly string[]) =>
  a === b ? `two parts of district ${a}` : `districts ${a} and ${b}`
const metres = (mm: number) => `${n3(mm / 1000)} m`

type EdgeParameters = { district: string; place: string; edgeUs: number; edge: string; by: string }

const fromEdge = ({ edgeUs, edge, by }: EdgeParameters) =>
  `from a driver edge of ${formatTimeUs(edgeUs, 3)} (${edge}; ${by === 'SPICE' ? 'SPICE transient' : 'ladder of coils and capacitors'})`

export const trackFindings = findingTable('track', {
  voltage: {
    means: 'The lowest voltage at the rails of a district, in the situation that is worst for the clause.',
    remedy: 'Add a feeder near the place, or use thicker wire.',
    says: (p: {
      district: string
      situation: 'standing' | 'running' | 'stalled'
      place: string
      lowVolt: number
      highVolt: number
      boundVolt: number
      wantedVolt: number
      wantedHighVolt: number
      train: string | undefined
      assumed: boolean
      decides: 'supply limit' | 'stall current' | 'arrangement' | 'corners' | undefined
    }) => {
      const how = {
        standing: 'with the trains as parked',
        running: 'with the heaviest train there and the others where they lower it most',
        stalled: `with ${p.train} stalled there${p.assumed ? ' (its stall current is assumed)' : ''} and the others running where they lower it most`,
      }[p.situation]
      const bound =
        n3(p.boundVolt) === n3(p.lowVolt) ? '' : ` (no arrangement gives less than ${n3(p.boundVolt)} V)`
      const why = {
        'supply limit': '; that is more current than the supply is sure to give',
        'stall current': '; the stall current in the design would decide it',
        arrangement: '; it depends on how close the trains can stand',
        corners: '; it depends on the corner: measured resistances would decide it',
      }
      return `District ${p.district}: ${spanText({ low: p.lowVolt, high: p.highVolt })} V at ${p.place} ${how}${bound}, from the lowest supply voltage and highest resistances to the opposite; at least ${spanText({ low: p.wantedVolt, high: p.wantedHighVolt })} V is required${p.decides ? why[p.decides] : ''}`
    },
  },
  'no-steady-state': {
    means: 'No steady state was found for the planned load.',
    remedy: 'Plan a load that the wires can carry.',
    says: (p: { district: string }) =>
      `District ${p.district}: no steady state was found for the planned load`,
  },
  'long-bus': {
    means: 'A bus run is longer than any in common use.',
    remedy: 'Check the unit of its length; if it is right, put boosters along the way.',
    says: (p: { run: string; lengthMm: number }) =>
      `Bus run "${p.run}" is ${metres(p.lengthMm)} long: is the unit right? A signal takes about ${n3((5e-3 * p.lengthMm) / 1000)} us along it`,
  },
  'train-too-long': {
    means: 'A train does not fit where it is parked.',
    remedy: 'Make the train shorter or the track longer.',
    says: (p: { train: string; trainMm: number; what: string; lengthMm: number }) =>
      `${p.train} is ${metres(p.trainMm)} long, but ${p.what} has only ${metres(p.lengthMm)} of track`,
  },
  'conductor-heat': {
    means: 'The hottest wire or rail of a district at the highest current that can keep flowing.',
    remedy: 'Use thicker wire, lower the trip current, or run the wire by itself.',
    says: (p: {
      district: string
      what: string
      conductor: string
      amp: number
      lowC: number
      highC: number
      limitC: number
      laying: 'alone' | 'bundled' | 'open'
      atMost: boolean
      verdict: string
    }) =>
      `District ${p.district}: at the ${n3(p.amp)} A that may flow continuously, the ${p.what} (${p.conductor}${p.laying === 'bundled' ? ', bundled with others' : p.laying === 'alone' ? ', by itself' : ''}) ${p.what.startsWith('rails') ? 'reach' : 'reaches'} ${p.highC >= 1000 ? 'more than ' : p.atMost ? 'at most ' : ''}${n3(p.highC)} °C; ${n3(p.limitC)} °C is allowed${p.verdict === 'undecided' ? `, but in the favourable corner it is ${n3(p.lowC)} °C: how it is laid and its resistance decide it` : ''}`,
  },
  'joint-heat': {
    means:
      'The joiner or connector of a district that is nearest to its limit at the highest current that can keep flowing.',
    remedy:
      'Solder the joint, feed both sides of it, or use a connector with a higher rating or cleaner contacts.',
    says: jointInWords,
  },
  'switch-unrated': {
    means: 'A hand switch whose rating the design does not give carries the current of a district.',
    remedy: 'Enter its rating as that of the connector at the start of its run.',
    says: (p: { district: string; run: string; amp: number }) =>
      `District ${p.district}: the switch of ${p.run} may carry ${n3(p.amp)} A continuously, and its rating is not in the design`,
  },
  'terminator-heat': {
    means: 'The power that the signal alone dissipates in the resistor across the end of a bus.',
    remedy: 'Use a resistor of higher rated power, or a smaller capacitor.',
    says: (p: { district: string; run: string; watt: number; ratedWatt: number | undefined }) =>
      `District ${p.district}: the signal makes up to ${n3(p.watt)} W in the resistor across the end of bus ${p.run}, ${p.ratedWatt === undefined ? 'and its rated power is not in the design' : `rated ${n3(p.ratedWatt)} W`}`,
  },
  'no-joints': {
    means: 'A district has no joiners and no connectors.',
    says: (p: { district: string }) => `District ${p.district} has no joiners and no connectors`,
  },
  'edge-rate': {
    means: 'How steep the edge is at the driver and at one lone decoder.',
    remedy: 'Use a faster driver, or less capacitance at the ends of the bus.',
    says: (p: EdgeParameters & { voltPerUs: number }) =>
      `District ${p.district}: ${n3(p.voltPerUs)} V/us at the slower of the driver’s output and a lone decoder at ${p.place}, ${fromEdge(p)}; the standard measures at the station`,
  },
  'step-backwards': {
    means: 'How far an edge turns back within the band of 2 V around zero.',
    remedy: 'Put a resistor and a capacitor in series across the ends of the bus.',
    says: (p: EdgeParameters & { stepVolt: number }) =>
      `District ${p.district}: the edge turns back by ${n3(p.stepVolt)} V within the band of 2 V around zero, the larger of the driver’s output and a lone decoder at ${p.place}, ${fromEdge(p)}`,
  },
  'lone-decoder': {
    means: 'The peak that an edge makes at the terminals of one lone decoder at the worst place.',
    remedy: 'Put a resistor and a capacitor in series across the ends of the bus, or twist its wires.',
    says: (
      p: EdgeParameters & { peakVolt: number; highPeakVolt: number; heldVolt: number; withstandVolt: number },
    ) =>
      `District ${p.district}: alone on the rails at ${p.place}, the worst place, a decoder without a capacitor sees a peak of ${n3(p.peakVolt)} V, ${n3(p.highPeakVolt)} V at the highest supply voltage, and one with its capacitor ${n3(p.heldVolt)} V, ${fromEdge(p)}; decoders must withstand ${n3(p.withstandVolt)} V`,
  },
  'fault-unprotected': {
    means: 'With one fault, a short at some place would never trip. A possible fault breaks no clause.',
    remedy: 'Feed the place from the other side as well.',
    says: (p: { faults: number; name: string; kind: string; place: string; short: number }) =>
      `With one fault the protection may not hold: ${p.faults === 1 ? 'one' : `${p.faults}, the worst a`} ${p.kind} at ${p.name} would leave a short at ${p.place} with ${n3(p.short)} times the trip current`,
  },
  'in-position': {
    means: 'The worst case for the clause in a position of the hand switches other than the usual one.',
    says: (p: { position: string; says: string; code: string }) => `With ${p.position}: ${p.says}`,
  },
  'positions-left-out': {
    means: 'The hand switches have more combinations of positions than were judged.',
    remedy: 'Feed fewer parts through hand switches.',
    says: (p: { judged: number; all: number; says: string }) =>
      `${p.says}; but only ${p.judged} of the ${p.all} combinations of hand-switch positions were judged`,
  },
  'switched-off': {
    means: 'A stretch has no voltage while its switch is off.',
    says: (p: { position: string; tracks: readonly string[]; trains: readonly string[] }) =>
      `With ${p.position}, ${shorten(p.tracks)} ${p.tracks.length === 1 ? 'is' : 'are'} without voltage${p.trains.length > 0 ? `, as is what is parked there: ${p.trains.join(', ')}` : ''}`,
  },
  'dead-stretch': {
    means:
      'A stretch between gaps in opposite rails has no feeder: each of its rails comes from another district.',
    remedy: 'Cut both rails at one end and feed it from one district.',
    says: (p: {
      tracks: readonly string[]
      joints: readonly string[]
      districts: readonly string[]
      lengthMm: number
      trains: readonly string[]
      why: string
    }) => {
      const what: Record<string, string> = {
        isolated: 'there is no voltage on it',
        'one ground':
          'their drivers share a ground, so a train on it draws current through both of them at once, which neither of them measures correctly',
        'not known':
          'whether there is voltage on it depends on whether their grounds are joined, which the design does not say',
      }
      return `${shorten(p.tracks)}, ${metres(p.lengthMm)} between the gaps at ${p.joints.join(' and at ')}, ${p.tracks.length === 1 ? 'has' : 'have'} no feeder, one rail from district ${p.districts[0]!} and the other from ${p.districts[1]!}: ${what[p.why] ?? p.why}${p.trains.length > 0 ? `; parked there: ${p.trains.join(', ')}` : ''}`
    },
  },
  'gap-hand-switch': {
    means: 'A wheel across the gap is a short while the hand switch is in the wrong position.',
    remedy: 'Throw the switch before a train crosses, or put an automatic reverser in its place.',
    says: (p: {
      joint: string
      districts: readonly string[]
      run: string
      leastAmp: number
      amp: number
      tripAmp: number | undefined
      trips: boolean
    }) =>
      `A wheel across the gap at ${p.joint} draws ${n3(p.leastAmp)} to ${n3(p.amp)} A if the switch of ${p.run} is in the wrong position${p.tripAmp === undefined ? ', and nothing trips' : p.trips ? `; that trips its district at ${n3(p.tripAmp)} A, and it depends on whether the switch is thrown in time` : `, which need not trip its district at ${n3(p.tripAmp)} A`}`,
  },
  'no-gaps': {
    means: 'No rail is cut anywhere.',
    says: (_: Record<never, never>) => 'No rail is cut anywhere, so no wheel bridges a gap',
  },
  'gap-harmless': {
    means: 'A wheel across the gap joins sides with the same voltage.',
    says: (p: { joint: string; districts: readonly string[]; kind: string }) =>
      `A wheel across the gap at ${p.joint} joins ${sides(p.districts)} on ${p.kind}, in phase: the sides share the load`,
  },
  'gap-frog': {
    means:
      'The routes of a crossing are fed by different districts, and a wheel may touch a rail of each at its frogs.',
    remedy: 'Feed both routes of the crossing from one district, and put the gaps beyond it.',
    says: (p: { joint: string; districts: readonly string[] }) =>
      `The routes of crossing ${p.joint} are fed by ${sides(p.districts)}: whether a wheel joins their rails at its frogs depends on frogs and wheels, which no design gives`,
  },
  'gap-switching-apart': {
    means:
      'The drivers on the two sides of the gap do not switch at the same instant, so at each edge of the signal a wheel joins opposite polarities for a moment.',
    remedy:
      'Use the same part on both sides, measure how far apart their edges are, or use more wire between the gap and each driver.',
    says: (p: {
      joint: string
      districts: readonly string[]
      parts: readonly string[]
      us: { low: number; high: number } | undefined
      peakAmp: number
      meanAmp: number
      headroomAmp: number | undefined
      microHenry: number
      verdict: string
      corner: string
      decides: string | undefined
    }) => {
      const drivers = p.parts[0] === p.parts[1] ? `two ${p.parts[0]}` : p.parts.join(' and ')
      const apart = p.us
        ? `switch up to ${n3(p.us.high)} us apart: for that long at each edge the sides are opposed, which drives up to ${n3(p.peakAmp)} A through the ${n3(p.microHenry)} uH of wires and rails, ${n3(p.meanAmp)} A averaged over a half-bit`
        : 'do not switch together, and how far apart is not known'
      const limit =
        p.headroomAmp === undefined
          ? '; the peak current that the drivers carry is not known'
          : `; ${n3(p.headroomAmp)} A of a driver’s peak current is left beside its trains`
      return `A wheel across the gap at ${p.joint} joins ${sides(p.districts)}, whose drivers, ${drivers}, ${apart}${limit}${p.verdict === 'met' ? '' : `; with the ${p.corner}`}${p.decides ? `; the ${p.decides} decides it` : ''}`
    },
  },
  'gap-turntable': {
    means: 'A wheel between the bridge of a turntable and a road is a short until its reverser has swapped.',
    remedy: 'Give the bridge a separate bus run with its reverser, and enter when that trips and how fast.',
    says: (p: { joint: string; districts: readonly string[]; amp: number }) =>
      `A wheel from the bridge to ${p.joint} draws up to ${n3(p.amp)} A until the reverser of the bridge has swapped, and when that trips and how fast is not in the design`,
  },
  'gap-supplies': {
    means:
      'A wheel across the gap joins two supplies, and the difference between their voltages drives a current through the wheel.',
    remedy: 'Set the supplies to the same voltage, or feed both districts from one supply.',
    says: (p: {
      joint: string
      districts: readonly string[]
      leastAmp: number
      mostAmp: number
      allowedAmp: number | undefined
      corner: string
      decides: string | undefined
    }) =>
      `A wheel across the gap at ${p.joint} joins ${sides(p.districts)}, whose supplies drive up to ${n3(p.mostAmp)} A through it${p.allowedAmp === undefined ? '' : `; ${n3(p.allowedAmp)} A would trip one side`}, with the ${p.corner}${p.decides ? `; the ${p.decides} decides it` : ''}`,
  },
  'gap-short': {
    means: 'A wheel across the gap shorts two outputs, or one output against itself.',
    remedy: 'Keep trains from crossing, or feed both sides with the same signal and polarity.',
    says: (p: { joint: string; districts: readonly string[]; kind: string; amp: number }) =>
      `A wheel across the gap at ${p.joint} joins ${sides(p.districts)}, ${p.kind === 'two outputs' ? 'whose signals are independent of each other' : 'whose polarities are opposite'}: a short of up to ${n3(p.amp)} A from the capacitors through the wheel, then what the supplies give`,
  },
  'gap-reverser': {
    means: 'A wheel across the gap is a short until the reverser has swapped.',
    remedy: 'Let the reverser act before its district trips.',
    says: (p: {
      joint: string
      districts: readonly string[]
      run: string
      amp: number
      ok: boolean
      why: string
    }) =>
      `A wheel across the gap at ${p.joint} draws up to ${n3(p.amp)} A until the reverser of ${p.run} has swapped; ${p.why}`,
  },
  'gap-driver-peak': {
    means: 'Until a reverser has swapped, a wheel across its gap may draw more than a driver withstands.',
    remedy:
      'Use a driver that limits its own current, or a supply whose limit acts at once and without output capacitors.',
    says: (p: {
      joint: string
      amp: number
      driver: string | undefined
      district: string
      isSure: boolean
    }) =>
      `A wheel across the gap at ${p.joint} draws up to ${n3(p.amp)} A at first, before a limit acts; ${p.driver ?? 'the driver'} of ${p.district} ${p.isSure ? 'does not withstand that' : 'is not known to withstand that'}`,
  },
  'common-rail': {
    means: 'Two districts share a rail.',
    remedy: 'Cut both rails between them.',
    says: (p: { districts: readonly string[]; joint: string | undefined; why: string }) => {
      const reason: Record<string, string> = {
        'one bridge': 'one bridge feeds both, so that does no harm',
        isolated:
          'at least one of them has isolated inputs and each has its own supply, so that does no harm',
        'one supply':
          'they are two bridges on one supply, so the shared rail joins their outputs: whenever one is off or late, the other drives into it',
        'one ground':
          'their drivers share a ground through the controller, so the shared rail joins their outputs',
        'not known':
          'that is harmless only if supplies and drivers are isolated from each other, which the design does not say',
      }
      return `Districts ${p.districts.join(' and ')} share one rail${p.joint ? ` at ${p.joint}` : ''}; ${reason[p.why] ?? p.why}`
    },
  },
  'feeds-joined': {
    means: 'A switch joins the outputs of two districts while it is being turned.',
    remedy: 'Use a break-before-make switch, and say so in the design.',
    says: (p: { run: string; districts: readonly string[]; known: boolean }) =>
      `The switch of ${p.run} ${p.known ? 'joins' : 'may join'} the outputs of districts ${p.districts.join(' and ')} while it is being turned${p.known ? '' : ': rotary switches are sold make-before-break and break-before-make, and the design does not say which this one is'}`,
  },
  isolated: {
    means: 'No two districts share a rail.',
    says: (p: { districts: number }) =>
      p.districts === 1
        ? 'One district feeds everything, so there is nothing to keep apart'
        : 'Both rails are cut wherever two districts meet',
  },
  'polarity-sound': {
    means: 'No rail meets the opposite polarity, directly, across a gap, or behind a reverser.',
    says: (_: Record<never, never>) =>
      'Both rails were followed through every joint that is not cut: no rail meets the opposite polarity, directly or across a gap',
  },
  'polarity-route': {
    means: 'A route along the rails joins a rail to its opposite.',
    remedy: 'Cut both rails at two places and feed the part between through an automatic reverser.',
    says: (p: { routes: number; names: readonly string[]; lengthMm: number; gaps: readonly string[] }) =>
      `${p.routes === 1 ? 'The route' : `The shortest of ${p.routes} routes`} goes ${shorten(p.names)} and is ${metres(p.lengthMm)} long${p.gaps.length > 0 ? `; cut both rails at ${p.gaps.join(' and at ')}` : ''}`,
  },
  'turntable-polarity': {
    means: 'The bridge of a turntable keeps its polarity after half a turn.',
    remedy: 'Feed the bridge through an automatic reverser or a split ring.',
    says: (p: { bridge: string }) =>
      `The bridge of a turntable keeps its polarity after half a turn: ${p.bridge}`,
  },
  'turntable-untold': {
    means: 'The bridge of a turntable has an automatic reverser that the design does not describe.',
    remedy: 'Give the bridge a separate bus run with its reverser, and enter when that trips and how fast.',
    says: (p: { bridge: string }) =>
      `The bridge of turntable ${p.bridge} has an automatic reverser, but the design does not say when it trips and how fast: no bus run that feeds the bridge has one`,
  },
  'reverser-beside': {
    means: 'Rails that a reverser feeds are fed by something else as well.',
    remedy: 'Cut both rails between the two feeders, or feed all of these rails through the reverser.',
    says: (p: { run: string; section: string; beside: string }) =>
      `The reverser of ${p.run} feeds ${p.section}, whose rails are also fed by ${p.beside}: once the reverser has swapped, one feed shorts the other`,
  },
  'reverser-useless': {
    means: 'An automatic reverser does not act, or not before its district trips.',
    remedy: 'Let the reverser trip at a lower current, and sooner, than its district.',
    says: (p: { run: string; why: string }) => `The reverser of ${p.run} does not work: ${p.why}`,
  },
  'reversed-stretch-short': {
    means:
      'The longest train is longer than the stretch behind a reverser, so it bridges the gaps at both ends.',
    remedy: 'Move the gaps farther apart, or keep longer trains out.',
    says: (p: { run: string; gaps: readonly string[]; stretchMm: number; train: string; trainMm: number }) =>
      `The reverser of ${p.run} feeds ${metres(p.stretchMm)} of track between the gaps at ${p.gaps.join(' and at ')}, and ${p.train} is ${metres(p.trainMm)} long: it bridges the gaps at both ends at once, which is a short whichever way the reverser is set`,
  },
  'reverser-shared': {
    means: 'One reverser feeds several separate stretches.',
    remedy: 'Give each stretch its own reverser.',
    says: (p: { run: string; stretches: readonly string[]; trains: number }) =>
      `The reverser of ${p.run} swaps ${p.stretches.join(' and ')} together, which are separate stretches: ${p.trains > 1 ? 'two trains on their gaps may need it both ways at once, which is a short whichever way it is set' : 'with more than one train it may be needed both ways at once, and the design names no more than one'}`,
  },
  'reverser-unsure': {
    means: 'A reverser may act later than a district that feeds the same short, or swap without a short.',
    remedy:
      'Let the reverser act sooner than every neighbouring district, and trip above the current that a train draws.',
    says: (p: { run: string; why: string }) =>
      `The reverser of ${p.run} may not work: ${p.why}, which decides it`,
  },
  'gap-two-reversers': {
    means: 'A wheel across the gap makes the reversers on both sides swap.',
    remedy: 'Put a stretch without a reverser between the two.',
    says: (p: {
      joint: string
      runs: readonly string[]
      amp: number
      ok: boolean
      timesUs: readonly number[]
    }) =>
      `A wheel across the gap at ${p.joint} draws up to ${n3(p.amp)} A, and the reversers on both sides notice it: ${p.runs.map((r, i) => `${r} within ${(p.timesUs[i]! / 1000).toFixed(1)} ms`).join(', ')}; ${p.ok ? 'one has swapped long before the other' : 'both swap, and the short stays'}`,
  },
  'swapped-feeder': {
    means: 'The two wires of a feeder are on the wrong rails.',
    remedy: 'Swap the wires of the feeder.',
    says: (p: { why: string }) => p.why,
  },
  'opposed-gap': {
    means: 'Beyond gaps in both rails the polarity is the opposite.',
    remedy: 'Feed the part on one side of the gaps through an automatic reverser.',
    says: (p: { why: string }) => p.why,
  },
})
