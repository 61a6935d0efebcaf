/** `figures.h`: every number of the starter firmware in one header, with where it comes from. */
import { type HeaderInput, signalParts } from '../../controller/index.js'
import { profileOfDesign } from '../../design/index.js'
import { wrapText } from '../../plot/index.js'
import { formatNumber, formatSi, formatTimeUs } from '../../units/index.js'
import { cComment, listed } from './c-text.js'
import { C_HEAD, place } from './places.js'
import type { OutputPlan, SensePlan, StarterPlan } from './plan.js'

/** `#define NAME value /* what it is *\/`, with the value in a column. */
function define(name: string, value: string | number, says: string): string {
  return `#define ${name.padEnd(26)} ${String(value).padEnd(5)} /* ${cComment(says)} */`
}

function comment(text: string): string[] {
  const lines = wrapText(cComment(text), 108)
  if (lines.length === 1) return [`/* ${lines[0]} */`]
  return ['/*', ...lines.map((l) => ` * ${l}`), ' */']
}

/** What the timers' room writes for an output of a chip whose registers are known. */
export function headerInput(plan: StarterPlan, output: OutputPlan): HeaderInput {
  const { controller } = plan.loaded.design
  return {
    chip: controller.chip,
    clockHz: controller.clock.frequency,
    option: output.option,
    track: output.name,
    prefix: `${output.role}_signal`,
    clauses: profileOfDesign(plan.loaded, output.output.cutout).clauses,
    ...(output.cutout ? { cutout: output.cutout } : {}),
    writtenBy: 'Written from the design: change it there and write the firmware again.',
  }
}

function signal(plan: StarterPlan, output: OutputPlan): string[] {
  const { role, preamble, option } = output
  const upper = role.toUpperCase()
  const ones = define(`${upper}_PREAMBLE`, preamble, 'ones before a packet, its end bit not counted')
  const hidden = output.cutout
    ? [define(`${upper}_CUTOUT_ONES`, output.cutout.ones, 'of them are hidden by the cut-out')]
    : []
  if (plan.chip) return [...signalParts(headerInput(plan, output)).figures, ones, ...hidden]
  return [
    ...comment(
      `The track signal of output "${output.name}" on ${option.pin}: ${option.timer.name}, ${option.mode}. Calculated only: no run shows it.`,
    ),
    define(`${upper}_ONE_TICKS`, option.one.ticks, `half of a one: ${formatTimeUs(option.one.us, 6)}`),
    define(`${upper}_ZERO_TICKS`, option.zero.ticks, `half of a zero: ${formatTimeUs(option.zero.us, 6)}`),
    ...option.loads.flatMap((l) => [
      define(`${upper}_${l.register.replace(/\W+/g, '_').toUpperCase()}_ONE`, l.one, l.says),
      define(`${upper}_${l.register.replace(/\W+/g, '_').toUpperCase()}_ZERO`, l.zero, l.says),
    ]),
    ones,
  ]
}

function policy({ policy: p }: StarterPlan): string[] {
  const longForms = p.longForms.map((a) => ` || (address) == ${a}`).join('')
  return [
    ...comment(
      `What goes out when: the policy "${p.name}". Order: ${{ cycle: 'every locomotive in turn', changes: 'changes, then their repeats, then the refresh', weighted: 'by weight' }[p.order]}. Table: 0 is the speed, 1 to 10 are the groups of functions.`,
    ),
    define('POLICY_LOCOS', p.locos, 'places for locomotives'),
    define('POLICY_ITEMS', p.items, 'speed and groups of functions'),
    `#define POLICY_TABLE ${p.table.join(', ')} /* refreshed in this order */`,
    define('POLICY_REPEATS_SPEED', p.repeats.speed, 'packets after the first'),
    define('POLICY_REPEATS_FUNCTIONS', p.repeats.functions, 'packets after the first'),
    define('POLICY_STOPS_FIRST', p.stopsFirst ? 1 : 0, '1: a stop goes ahead of other changes'),
    ...(p.order === 'weighted'
      ? [
          define('POLICY_WEIGHT_CHANGES', p.weights.changes, 'changes and repeats'),
          define('POLICY_WEIGHT_MOVING', p.weights.moving, 'speed of those that move'),
          define('POLICY_WEIGHT_STANDING', p.weights.standing, 'speed of those that stand'),
          define('POLICY_WEIGHT_FUNCTIONS', p.weights.functions, 'functions'),
        ]
      : []),
    define(
      'GAP_PACKETS',
      p.gapPackets,
      `to others between two to one address: ${formatTimeUs(p.gapUs)} pass at least`,
    ),
    define('FUNCTION_HIGHEST', p.functionHighest, 'highest function of the fleet'),
    define('ADDRESS_HIGHEST', 10239, 'S-9.2.1:2012 A'),
    `#define IS_LONG(address) ((address) > 127${longForms}) /* which addresses go in two bytes */`,
    define('TURNOUT_HIGHEST', 2044 - p.turnoutOffset, 'S-9.2.1:2012 D, nine bits of board and two of pair'),
    define('TURNOUT_OFFSET', p.turnoutOffset, 'pairs before number 1; texts disagree'),
    define('TURNOUT_PLACES', 8, 'turnouts that may wait'),
    define(
      'TURNOUT_PACKETS',
      p.repeats.turnouts + 1,
      'that switch its output on, and as many that switch it off',
    ),
    define(
      'TURNOUT_PULSE',
      p.turnoutPulse,
      'packets from on to off: 250 ms or more (common practice, no source)',
    ),
    define('START_RESETS', 20, 'at start, RP-9.2.4 A'),
    define('START_IDLES', 10, 'after them, the same'),
    define('STOP_PACKETS', 8, 'of an emergency stop for everyone; common practice, no source'),
  ]
}

function sense(s: SensePlan, plan: StarterPlan): string[] {
  const { sensing } = plan
  const mux = s.channel > 7 ? s.channel - 8 : s.channel
  const bits = [
    ...sensing!.referenceBits,
    ...[4, 3, 2, 1, 0].filter((b) => mux & (1 << b)).map((b) => `MUX${b}`),
  ]
  return [
    ...comment(
      `Current of ${s.district} on ${s.pin}: ${formatSi(s.ampPerCount, 'A')} per count; ${formatSi(s.tripAmp, 'A')} for ${formatTimeUs(s.tripUs, 3)} trips${s.assumed ? ` (${s.assumed})` : ''}.`,
    ),
    define(`${s.id}_TRIP_LOW`, s.low, 'below it too much flows, where the zero is in the middle'),
    define(`${s.id}_TRIP_HIGH`, s.high, 'above it too much flows'),
    define(`${s.id}_TRIP_READINGS`, s.readings, 'in a row'),
    define(`${s.id}_READ_EVERY`, s.every, 'of the readings counts'),
    define(`${s.id}_BLANKING`, s.blanking, 'readings after switching on that do not count'),
    ...(plan.track.cutout && sensing!.quietReadings > 0
      ? [
          define(
            `${s.id}_CUTOUT_MOST`,
            s.cutoutMost,
            s.cutoutMost > 0
              ? 'up to which readings in a cut-out count on, once too much was read before it'
              : 'it has no cut-out',
          ),
        ]
      : []),
    ...(plan.chip
      ? [
          `#define ${s.id}_ADMUX (${bits.map((b) => `(1 << ${b})`).join(' | ') || '0'}) /* channel ${s.channel}; reference: ${sensing!.referenceSays} */`,
          ...(sensing!.highMux ? [`#define ${s.id}_ADCSRB (${s.channel > 7 ? '1 << MUX5' : '0'})`] : []),
        ]
      : []),
  ]
}

function protection(plan: StarterPlan): string[] {
  const { switches, sensing } = plan
  if (switches.length === 0)
    return comment('Nothing is switched: no enable or brake input of a driver is wired.')
  const list = switches.map((s, i) =>
    define(
      `SWITCH_${s.id}`,
      i,
      `${listed(s.districts)}: ${listed(s.pins.map((p) => `${p.pin} ${p.high ? 'high' : 'low'}`))} is on`,
    ),
  )
  const lines = [
    ...comment('Switches of the drivers.'),
    ...list,
    define('SWITCHES', switches.length, 'in all'),
    '',
  ]
  if (!sensing)
    return [
      ...lines,
      ...comment('No current is watched by the firmware: the README tells what trips instead.'),
    ]
  const { rate, prescaler, senses, retries, retryReadings, quietReadings } = sensing
  return [
    ...lines,
    ...comment(
      `The converter${plan.chip ? `: clock divided by ${prescaler},` : ' makes'} ${formatNumber(rate, 5)} readings a second${senses.length > 1 ? `, one sense after the other` : ''}. After a trip the track is tried again after ${formatTimeUs((retryReadings / rate) * 1e6, 3)}, ${retries} times (common practice, no source); the service track stays off.`,
    ),
    define('SENSES', senses.length, 'currents that are watched'),
    ...senses.map((s, i) => define(`SENSE_${s.id}`, i, s.district)),
    define('RETRY_READINGS', retryReadings, 'of all senses'),
    define('RETRIES', retries, 'before it stays off'),
    ...(plan.track.cutout && quietReadings > 0
      ? [
          define(
            'CUTOUT_READINGS',
            quietReadings,
            'of all senses after a cut-out that do not show yet what flows',
          ),
        ]
      : []),
    ...senses.flatMap((s) => ['', ...sense(s, plan)]),
  ]
}

function service(plan: StarterPlan): string[] {
  const d = plan.sensing?.detector
  if (!d) return []
  return [
    '',
    ...comment('Service mode, direct mode: packets of each step (S-9.2.3:2012 E).'),
    define('SERVICE_POWER_ON_PACKETS', 20, 'resets before anything else'),
    define('SERVICE_RESETS', 3, 'before an instruction'),
    define('SERVICE_INSTRUCTIONS', 5, 'the same each time'),
    define('SERVICE_RECOVERY', 6, 'more of a write, or resets after a verify'),
    '',
    ...comment(
      `An acknowledgement: ${formatSi(d.thresholdAmp, 'A')} more than before the instruction, in ${d.samples}${d.of > d.samples ? ` of ${d.of}` : ''} samples of ${formatTimeUs(d.sampleUs, 3)}; a decoder makes 60 mA for 5 to 7 ms (S-9.2.3:2012 D).`,
    ),
    define('ACK_RISE', d.rise, 'in counts times ACK_AVERAGE, shifted left by ACK_SHIFT'),
    define('ACK_SAMPLES', d.samples, 'higher than that'),
    define('ACK_OF', d.of, 'of so many'),
    define('ACK_AVERAGE', d.average, 'readings in a sample'),
    define('ACK_SHIFT', d.shift, 'the smoothing takes 1/2^ACK_SHIFT of each sample'),
  ]
}

export function figuresH(plan: StarterPlan): string {
  const { design } = plan.loaded
  const { serial } = plan
  const title = `Every figure of the firmware for "${design.name ?? 'the station'}", and where it comes from. This file includes nothing but your own limits, so firmware of your own can use it alone.`
  const lines = [
    ...comment(title),
    '#ifndef FIGURES_H',
    '#define FIGURES_H',
    '',
    ...signal(plan, plan.track),
    ...(plan.service ? ['', ...signal(plan, plan.service)] : []),
    '',
    ...policy(plan),
    '',
    ...protection(plan),
    ...service(plan),
    '',
    ...comment(
      `The serial line: ${serial.baud} baud${plan.chip ? `, off by ${formatNumber(serial.error * 100, 2)} %` : ''}.`,
    ),
    ...(plan.chip ? [define('SERIAL_DIVIDER', serial.divider, 'baud rate register')] : []),
    define('SERIAL_BAUD', serial.baud, 'what it is meant to be'),
    '',
    place('figures').trimEnd(),
    '',
    '#endif',
    '',
  ]
  return C_HEAD + lines.join('\n')
}

/** `signal.h`: pins and timers of all outputs. */
export function signalH(plan: StarterPlan): string {
  const outputs = [plan.track, ...(plan.service ? [plan.service] : [])]
  const lines = [
    ...comment(
      'Start, load and stop the signal of each output. For one source file only: some keep a state.',
    ),
    '#ifndef SIGNAL_H',
    '#define SIGNAL_H',
    '',
    '#include "figures.h"',
    '',
    ...outputs.flatMap((o, i) => {
      const { functions } = signalParts(headerInput(plan, o))
      // Includes and checks of the chip are the same for both.
      return i === 0 ? [...functions, ''] : [...functions.filter((l) => !l.startsWith('#include')), '']
    }),
    '#endif',
    '',
  ]
  return C_HEAD + lines.join('\n')
}
