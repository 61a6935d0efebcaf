/** What a run says about what the firmware does with shorts. */
import { findingTable } from '../finding/index.js'
import { formatSi, formatTimeUs } from '../units/index.js'

export const BEHAVIOUR_FINDINGS = findingTable('run', {
  'short-not-tried': {
    means: 'No stimulus raised the voltage at the current sense above the trip threshold.',
    remedy: 'Let the stimulus hold the sense voltage up for longer than the firmware needs to trip.',
    says: (p: { source: string; pin: string; overVolt: number }) =>
      `${p.source}: nothing raises ${p.pin} above ${formatSi(p.overVolt, 'V')}, so the firmware’s trip was not tried`,
  },
  'trips-on-short': {
    means: 'The firmware switched off when the sense voltage showed a short.',
    says: (p: { source: string; pin: string; volt: number; tookUs: number; by: string }) =>
      `${p.source}: with ${formatSi(p.volt, 'V')} at ${p.pin} ${p.by} after ${formatTimeUs(p.tookUs)}`,
  },
  'trips-late': {
    means: 'The firmware switched off, but later than the design allows.',
    remedy: 'Read the sense more often, or require fewer readings in a row.',
    says: (p: { source: string; pin: string; volt: number; tookUs: number; by: string; wantedUs: number }) =>
      `${p.source}: with ${formatSi(p.volt, 'V')} at ${p.pin} ${p.by} only after ${formatTimeUs(p.tookUs)}; the design allows at most ${formatTimeUs(p.wantedUs)}`,
  },
  'never-trips': {
    means: 'The sense voltage showed a short, but the firmware did not switch off.',
    remedy: 'Check whether the firmware reads the sense pin, and what it compares the reading with.',
    says: (p: { source: string; pin: string; volt: number; lastedUs: number }) =>
      `${p.source}: ${formatSi(p.volt, 'V')} at ${p.pin} for ${formatTimeUs(p.lastedUs)}, and nothing was switched off`,
  },
  'does-not-stay-off': {
    means: 'The firmware switched off and on again while the sense voltage still showed the short.',
    remedy:
      'Stay off until a command switches power on again, or wait longer than the trip takes before each retry, and trip again each time.',
    says: (p: {
      source: string
      pin: string
      volt: number
      atUs: number
      offForUs: number
      onForUs: number
    }) =>
      `${p.source}: with ${formatSi(p.volt, 'V')} still at ${p.pin} the firmware switches on again at ${formatTimeUs(p.atUs)}, after ${formatTimeUs(p.offForUs)} off, and the short flows for another ${formatTimeUs(p.onForUs)}`,
  },
  'attempts-too-hot': {
    means: 'The firmware retries again and again into a lasting short, and the mean heat is too high.',
    remedy: 'Wait longer before each retry, or stay off until a command switches power on again.',
    says: (p: { source: string; pin: string; volt: number; onUs: number; offUs: number; because: string }) =>
      `${p.source}: with ${formatSi(p.volt, 'V')} still at ${p.pin} the firmware switches on again and again, on for ${formatTimeUs(p.onUs)} and off for ${formatTimeUs(p.offUs)} on average; ${p.because}`,
  },
  'power-off-ignored': {
    means: 'Packets still reached the rails after power off was commanded.',
    remedy: 'Let the command that turns track power off pull the driver’s enable input low.',
    says: (p: { source: string; output: string; text: string; packetUs: number; limitUs: number }) =>
      `${p.source}: “${p.text}” should turn track power off within ${formatTimeUs(p.limitUs)}, and output ${p.output} still drives the rails at ${formatTimeUs(p.packetUs)}`,
  },
  'short-too-brief': {
    means: 'The sense voltage was above the threshold for less time than the firmware may take.',
    remedy: 'Let the stimulus hold the voltage for longer.',
    says: (p: { source: string; pin: string; lastedUs: number; wantedUs: number }) =>
      `${p.source}: ${p.pin} is above the threshold for ${formatTimeUs(p.lastedUs)} only; in the design the trip takes up to ${formatTimeUs(p.wantedUs)}`,
  },
  'acknowledgement-not-read': {
    means:
      'Service-mode packets were sent, but the firmware never converted the voltage of its current sense.',
    remedy: 'Sample the sense pin while the packets of an operation are sent.',
    says: (p: { source: string; pin: string }) =>
      `${p.source}: service-mode packets are sent, but ${p.pin} is never converted: no acknowledgement can be seen`,
  },
  'acknowledgement-not-tried': {
    means:
      'A run with scripted voltages cannot show how well an acknowledgement is distinguished from noise.',
    says: (p: { source: string; pin: string }) =>
      `${p.source}: the firmware reads ${p.pin}, but whether it can tell an acknowledgement from noise was not tried`,
  },
})
