/** The commented text of a whole design file, made from the answers and from what the engine has sized. */
import { driverPart } from '../power/index.js'
import { profileOf } from '../standard/index.js'
import { terminatorWatt } from '../track/index.js'
import { formatNumber, formatSi } from '../units/index.js'
import type { Answers } from './answers.js'
import { CONVERTERS } from './parts.data.js'
import type { Plan, PlanSection, Xy } from './plan.js'
import type { Sizes } from './sizes.js'
import { type Train, worstLoadAmp } from './trains.js'
import type { Wiring } from './wiring.js'

export interface Station {
  answers: Answers
  plan: Plan
  wiring: Wiring
  trains: readonly Train[]
  sizes: Sizes
}

/** Half of a one as the standard's sender aims at, us: S-9.1. */
const ONE_HALF_US = 58

const n = (value: number, digits = 4) => formatNumber(value, digits)
const amp = (value: number) => formatSi(value, 'A', 3)
const mm = (value: number) => `${n(Math.round(value), 6)} mm`
const xy = ([x, y]: Xy) => `[${Math.round(x)}, ${Math.round(y)}]`
const districtNames = (count: number) => (count > 1 ? ['first', 'second'] : ['main'])

export function stationText(s: Station): string {
  return [...head(s), ...power(s), ...track(s), ...stock(s), ...traffic(s), ...tail()].join('\n')
}

function head({ answers: a, wiring: w }: Station): string[] {
  const { option } = w
  const reserved = [w.enable, ...(w.sense === undefined ? [] : [w.sense])]
  return [
    '# A design file: one command station and its railroad. Quantities carry their unit: 58 us, 16 MHz, 1.2 A.',
    '# Every clause that can be calculated from it is met as it is. Where your parts differ, change the figures here;',
    '# docs/design-file.md lists every key.',
    'halfbit: 2 # version of this format',
    `name: ${JSON.stringify(a.name)}`,
    '',
    'standard:',
    `  profile: ${a.profile} # nmra: S-9.x; rcn: RailCommunity and NEM`,
    `scale: ${JSON.stringify(a.scale)} # decides the voltage window`,
    '',
    'controller:',
    `  chip: ${a.chip}`,
    '  clock:',
    `    frequency: ${n(a.clock / 1e6, 9)} MHz`,
    `    source: ${a.source} # decides how exact it is`,
    `  reservedPins: [${reserved.join(', ')}] # used below: ${w.sense === undefined ? 'enable' : 'enable, current sense'}`,
    '',
    'signal:',
    '  outputs:',
    '    main:',
    '      mode: operations # trains run on it',
    `      pin: ${w.pin} # carries the logic signal to the driver`,
    ...(w.inverted === undefined
      ? []
      : [`      inverted: ${w.inverted} # the opposite level, for the other leg`]),
    `      method: ${option.method}`,
    `      timer: ${option.timer.number}`,
    `      prescaler: ${option.divider}`,
    `      oneHalf: ${ONE_HALF_US} us`,
    '      zeroHalf: 100 us',
    '      preamble: 16 # 14 at least',
    '',
  ]
}

/** The current is held at its limit: by the supply, or by the limiter behind it. */
function isHeld(a: Answers): boolean {
  return a.limiter === 'driver' || a.limit === 'constant'
}

function power({ answers: a, wiring: w, sizes: z, trains }: Station): string[] {
  const names = districtNames(a.districts)
  const pair = driverPart(a.driver)?.inputs === 'pair'
  const pins = (first: boolean) => [
    `        - { name: ${pair ? 'input 1' : 'phase'}, role: direction, wired: ${w.pin}, output: main }`,
    ...(pair ? [`        - { name: input 2, role: inverted, wired: ${w.inverted}, output: main }`] : []),
    `        - { name: enable, role: enable, wired: ${w.enable}, pull: low } # off while the controller is in reset`,
    ...(first && isSensed(a, w) ? [`        - { name: shunt, role: sense, wired: ${w.sense} }`] : []),
  ]
  const converter = CONVERTERS[a.chip]
  return [
    '# What feeds the rails. Use certified supplies; mains wiring is for a licensed electrician, and local codes come first.',
    'power:',
    '  ambient: 30 C # inside the case, on a warm day',
    '  supplies:',
    ...names.flatMap((name) => [
      `    ${name}:`,
      `      voltage: ${n(a.voltage)} V`,
      z.toleranceShare < 0.02
        ? '      tolerance: 1 % # set all to the same voltage with one meter: wheels across the gaps join them'
        : '      tolerance: 3 % # a regulated one',
      `      rating: ${amp(a.rating)}`,
      `      limit: ${isHeld(a) ? 'constant' : a.limit}`,
      ...(isHeld(a)
        ? [`      limitCurrent: ${amp(z.limitAmp)} # from its data sheet, or as it is set`]
        : [
            `      limitCurrent: ${amp(z.limitAmp)} # from its data sheet`,
            '      hiccupOn: 100 ms # how long it delivers before it switches off: from its data sheet',
            '      hiccupOff: 500 ms',
          ]),
      ...(a.limiter === 'driver'
        ? [
            '      # The limiter sits right before the driver, with no capacitor behind it but the 100 nF of the driver, too little to count:',
            '      # larger ones, at the output of a limiter module or on a driver board, discharge into a short and can destroy the driver.',
            '      capacitance: 0 F',
            '      # It must act at once, as one with a series transistor does; a switching module takes up to a millisecond, which can destroy the driver.',
            '      limitResponse: 0 us',
          ]
        : []),
      `      fuse: ${amp(z.supplyFuseAmp)}`,
      '      fuseBreaking: 100 A # a ceramic fuse',
    ]),
    '  drivers:',
    ...names.flatMap((name, i) => [
      `    ${name}:`,
      `      part: ${a.driver}`,
      `      supply: ${name}`,
      ...(names.length > 1
        ? [
            `      batch: one order # all from one batch: their edges are close enough for wheels across the gaps`,
          ]
        : []),
      ...(z.coolingKPerW === undefined
        ? []
        : [`      cooling: { junctionToAmbient: ${n(z.coolingKPerW, 2)} K/W } # ${z.coolingSays}`]),
      '      pins:',
      ...pins(i === 0),
    ]),
    '  districts:',
    ...names.flatMap((name, i) => [
      `    ${name}:`,
      `      driver: ${name}`,
      `      fuse: ${amp(z.fuseAmp)} # at the supply's end of its wires`,
      '      fuseBreaking: 100 A # a ceramic fuse',
      ...(i === 0 && isSensed(a, w)
        ? [
            '      sense: # a shunt in the common return, read by the firmware',
            '        kind: shunt',
            `        resistance: ${n(z.senseOhm, 3)} Ohm`,
            `        power: ${n(z.senseWatt)} W`,
            '        series: 10 kOhm # protects the pin',
            ...(converter.bits === 10 ? [] : [`        bits: ${converter.bits}`]),
            `        reference: ${n(converter.referenceVolt)} V`,
            `        referenceTolerance: ${n(converter.referenceShare * 100)} %`,
            `        rate: ${converter.rate} /s`,
            '        filter: 100 us',
            `      trip: { current: ${amp(z.tripAmp)}, samples: ${z.samples}, after: 100 us } # so many readings in a row`,
          ]
        : [
            `      trip: { current: ${amp(z.tripAmp)}, by: breaker, after: ${n(z.breakerMs)} ms } # its own electronic breaker`,
          ]),
    ]),
    `# ${trains.length === 1 ? 'The train draws' : `${trains.length} trains draw`} up to ${amp(worstLoadAmp(trains))}, one motor stalled; the trip is above that.`,
    '',
  ]
}

/** The firmware reads the first district's current; further ones have breakers of their own. */
export function isSensed(_a: Answers, w: Wiring): boolean {
  return w.sense !== undefined
}

function track({ answers: a, plan, sizes: z }: Station): string[] {
  const names = districtNames(a.districts)
  const section = (s: PlanSection) => {
    const named = plan.runs.length > 1 ? `bus: ${s.run}, ` : ''
    const step = s.count > 1 ? `, step: ${mm(s.feederStepMm)}` : ''
    return [
      `    ${s.name}:`,
      ...(s.count > 1 ? [`      count: ${s.count} # in a row, each with a feeder`] : []),
      `      length: ${mm(s.lengthMm)}`,
      ...(s.from === undefined ? [] : [`      from: ${s.from}`]),
      ...(s.to === undefined ? [] : [`      to: ${s.to}`]),
      ...(s.gaps === undefined ? [] : [`      gaps: ${s.gaps} # both rails are cut there`]),
      ...(s.points ? [`      points: [${s.points.map(xy).join(', ')}]`] : []),
      ...(s.arc
        ? [
            `      arc: { centre: ${xy(s.arc.centre)}, radius: ${mm(s.arc.radiusMm)}, from: ${s.arc.from}, to: ${s.arc.to} }`,
          ]
        : []),
      `      feeders: { ${named}at: ${mm(s.feederAtMm)}${step} }`,
    ]
  }
  return [
    `# The rails: ${plan.says}. ${n(plan.trackMm / 1000, 3)} m of track.`,
    'track:',
    '  temperature: 25 C',
    '  defaults:',
    `    rail: ${a.rail}`,
    '    alloy: nickel silver',
    `    joiner: ${z.joiner}${z.joiner === 'soldered' ? ' # slip joints would get too hot at the current that may flow continuously' : ''}`,
    `    feeder: { wire: ${z.feederWire}, length: 200 mm }`,
    '  bus:',
    ...plan.runs.flatMap((r) => [
      `    ${r.name}:`,
      `      district: ${names[r.district]}`,
      `      wire: ${z.busWire}`,
      `      length: ${mm(r.lengthMm)}`,
      '      geometry: twisted',
      ...(z.terminator === undefined
        ? []
        : [
            `      terminator: { resistance: ${n(z.terminator.ohm)} Ohm, capacitance: ${n(z.terminator.nF)} nF, power: ${n(resistorWatt(z.terminator.nF, a))} W } # keeps the edges clean`,
          ]),
      ...(r.isReversed
        ? [
            `      reverser: { trip: ${amp(z.reverserAmp)}, time: 10 ms } # swaps the polarity while a train is on the loop`,
          ]
        : []),
    ]),
    '  sections:',
    ...plan.sections.flatMap(section),
    ...(plan.turnouts.length > 0
      ? [
          '  turnouts:',
          ...plan.turnouts.map((t) => `    ${t.name}: { length: ${mm(plan.turnoutMm)}, at: ${xy(t.at)} }`),
        ]
      : []),
    '',
  ]
}

function stock({ trains }: Station): string[] {
  return [
    '# What runs, and where it stands at first. Usual currents (common practice, no source): measure your own.',
    'rollingStock:',
    ...trains.flatMap((t) => [
      `  ${t.name}:`,
      `    running: ${amp(t.runningAmp)}`,
      `    stall: ${amp(t.stallAmp)}`,
      ...(t.lightsAmp > 0 ? [`    lights: ${amp(t.lightsAmp)}`] : []),
      ...(t.soundAmp > 0 ? [`    sound: ${amp(t.soundAmp)}`] : []),
      `    length: ${mm(t.lengthMm)}`,
      `    section: ${t.section}`,
    ]),
    '',
    '# The same trains by the settings of their decoders.',
    'fleet:',
    ...trains.flatMap((t) => [
      `  ${t.name}:`,
      `    address: ${t.address}`,
      `    functions: ${t.functions}`,
      `    acceleration: ${t.acceleration}`,
      `    deceleration: ${t.deceleration}`,
      '    timeout: 4 s # as the manual of the decoder says',
      `    topSpeed: ${t.topKmh} km/h`,
      '    runOut: 3 mm # measure it',
    ]),
    '',
  ]
}

function traffic({ answers: a, plan, trains, sizes: z }: Station): string[] {
  const stop = plan.deadEnd
  return [
    '# What the station sends, and who commands it.',
    'traffic:',
    '  policies:',
    '    changes first:',
    '      order: changes # a change goes out at once, then its repeats, then everybody in turn',
    '      table: [speed, F0-F4, speed, F5-F8, speed, F9-F12]',
    '      repeats: { speed: 2, functions: 2, turnouts: 2 }',
    '      gap: 5 ms # between packets to one address',
    `  capacity: ${Math.max(8, trains.length)} # locomotives that the station can hold`,
    ...(a.drivenBy === 'computer' ? ['  link: { baud: 115200 baud, commandBytes: 8, loop: 20 ms }'] : []),
    '  operators:',
    ...(a.drivenBy === 'computer'
      ? ['    at the computer: { via: link, knob: 0.2 /s, function: 0.05 /s }']
      : ['    at the controls: { via: panel, knob: 0.2 /s, function: 0.05 /s }']),
    ...(stop
      ? [
          '  stops:',
          `    end of ${stop.section}: # trains stop there by an emergency stop of the block`,
          `      { length: ${mm(stop.lengthMm)}, margin: 50 mm, speed: ${z.stopKmh} km/h, brake: emergency }`,
        ]
      : [
          '  stops:',
          '    halt: # from the detector to where trains must stand',
          `      { length: ${mm(z.haltMm)}, margin: 50 mm, speed: ${z.stopKmh} km/h, brake: emergency }`,
        ]),
    '',
  ]
}

function tail(): string[] {
  return [
    '# What is run and judged beside the calculation; take the # away when you have the files.',
    '# firmware:',
    '#   file: firmware/station.elf # ELF or HEX',
    '#   runFor: 5 s',
    '# captures:',
    '#   - file: captures/main.vcd # VCD, CSV or raw samples',
    '#     output: main',
    '#     probe: logic # at the logic pin, or at the rails',
    '',
  ]
}

const RESISTOR_WATTS = [0.25, 0.5, 1, 2, 3, 5]

/**
 * The next resistor above what the signal heats it by, in the shortest halves that the standard allows, with a tenth more voltage
 * and capacitance than planned.
 */
function resistorWatt(nF: number, a: Answers): number {
  const { clauses } = profileOf({ profile: a.profile, scale: a.scale, cutout: false })
  const halfUs = clauses['one-half'].sender.min ?? ONE_HALF_US
  const watt = terminatorWatt(1.1 * nF * 1e-9, 1.1 * a.voltage, 1e6 / (2 * halfUs))
  return RESISTOR_WATTS.find((rated) => rated >= watt) ?? Math.ceil(watt)
}
