/** What the coupled bench says beside figures. */
import { findingTable } from '../finding/index.js'
import { formatSi, formatTimeUs } from '../units/index.js'

const list = (names: readonly (string | number)[]) =>
  names.length > 1 ? `${names.slice(0, -1).join(', ')} and ${names.at(-1)}` : String(names[0])

export const BENCH_FINDINGS = findingTable('bench', {
  'short-off': {
    means: 'A short was switched off in time by whoever has to.',
    says: (p: { district: string; tookUs: number; by: string; also: readonly string[] }) =>
      `a short at the weakest place of ${p.district} is off after ${formatTimeUs(p.tookUs)}, by ${p.by}${p.also.length > 0 ? `; ${list(p.also)} ${p.also.length > 1 ? 'lose' : 'loses'} power too` : ''}`,
  },
  'short-late': {
    means: 'A short was switched off, but later than the design allows.',
    remedy: 'Read the current more often, or ask for fewer readings in a row.',
    says: (p: { district: string; tookUs: number; by: string; allowedUs: number }) =>
      `a short at the weakest place of ${p.district} is off only after ${formatTimeUs(p.tookUs)}, by ${p.by}; by the design it takes at most ${formatTimeUs(p.allowedUs)}`,
  },
  'short-on-again': {
    means: 'A short was switched off, and then on again while it lasted.',
    remedy:
      'Stay off until power is asked for again, or wait longer than the trip takes before each new try, and trip anew.',
    says: (p: { district: string; amp: number; offForUs: number; onForUs: number }) =>
      `a short at the weakest place of ${p.district} is switched off and, ${formatTimeUs(p.offForUs)} later, on again: up to ${formatSi(p.amp, 'A')} flow for another ${formatTimeUs(p.onForUs)}`,
  },
  'short-stays-on': {
    means: 'A short was not switched off while it lasted.',
    remedy: 'See whether the firmware reads the sense pin of that district, and what it does then.',
    says: (p: { district: string; amp: number; lastedUs: number }) =>
      `a short at the weakest place of ${p.district} draws ${p.amp.toFixed(1)} A for ${formatTimeUs(p.lastedUs)} and nothing switches it off`,
  },
  'power-stays-off': {
    means: 'Power did not come back after the short had gone.',
    remedy: 'Let the firmware try again, or give it a command that turns track power on.',
    says: (p: { district: string; waitedUs: number }) =>
      `power does not come back to ${p.district} within ${formatTimeUs(p.waitedUs)} after the short has gone`,
  },
  'start-holds': {
    means: 'Every locomotive started at once, and nothing switched off.',
    says: (p: { district: string; peakAmp: number }) =>
      `with every locomotive started at once ${p.district} draws up to ${p.peakAmp.toFixed(1)} A, and stays on`,
  },
  'trips-at-start': {
    means: 'A district switched off although there was no short: capacitors charged, or trains started.',
    remedy: 'Ask for more readings in a row above the threshold, or raise it as far as the driver allows.',
    says: (p: { district: string; atUs: number; peakAmp: number }) =>
      `${p.district} is switched off at ${formatTimeUs(p.atUs)} without a short, at up to ${p.peakAmp.toFixed(1)} A`,
  },
  'still-after-restart': {
    means: 'After the controller had restarted every locomotive stopped, and the next command was obeyed.',
    says: (p: { stoppedUs: number; decoder: string }) =>
      `after a restart of the controller every locomotive has stopped within ${formatTimeUs(p.stoppedUs)} and none moves until ${p.decoder} is commanded`,
  },
  'silent-after-restart': {
    means: 'The firmware did not come back after the controller had restarted: no packet was sent.',
    remedy:
      'See what the firmware waits for when it starts: an external reset must bring it back as power-up does.',
    says: (p: { watchedUs: number }) =>
      `after a restart of the controller no packet is sent for ${formatTimeUs(p.watchedUs)}: the firmware does not come back`,
  },
  'dark-after-restart': {
    means: 'Track power was off after the controller had restarted, and the command for it changed nothing.',
    remedy: 'See whether the firmware still reads its serial line after a reset, and sets its enable pins.',
    says: (p: { district: string }) =>
      `after a restart of the controller ${p.district} has no power, also after the command that switches it on`,
  },
  'deaf-after-restart': {
    means: 'After the controller had restarted packets were sent, but a command moved no locomotive.',
    remedy: 'See whether the firmware still reads its serial line after a reset.',
    says: (p: { decoder: string; waitedUs: number }) =>
      `after a restart of the controller ${p.decoder} is commanded and does not start within ${formatTimeUs(p.waitedUs)}`,
  },
  'silent-after-short': {
    means: 'Power was back after a short, but no packets came with it.',
    remedy: 'Keep sending packets, or begin again with resets and idles, before track power returns.',
    says: (p: { output: string }) => `after the short the rails of ${p.output} have power and no packets`,
  },
  'moves-after-restart': {
    means: 'After the controller had restarted a locomotive went on, or started, without a command.',
    remedy: 'Begin with 20 reset packets and then idles, and keep no old state.',
    says: (p: { decoder: string; atUs: number }) =>
      `${p.decoder} still moves ${formatTimeUs(p.atUs)} after the controller has restarted, and nobody has commanded it`,
  },
  'service-works': {
    means:
      'The firmware wrote and verified a CV on the service track, and read the acknowledgement rightly each time.',
    says: (p: { write: string; answers: number }) =>
      `${p.write}; ${p.answers} acknowledgements and silences are told rightly`,
  },
  'cv-not-written': {
    means: 'The decoder on the service track did not store what was commanded.',
    remedy: 'Compare the packets on the service track with the sequence of the standard.',
    says: (p: { cv: number; value: number; found: number }) =>
      `CV${p.cv} was to be ${p.value}; the decoder on the service track has ${p.found}`,
  },
  'answer-wrong': {
    means: 'The firmware took silence for an acknowledgement, or missed one.',
    remedy: 'Take the idle current just before each operation, and look for 60 mA more for 5 to 7 ms.',
    says: (p: { command: string; wanted: string; found: string }) =>
      `after "${p.command}" the firmware should say ${p.wanted}; it says ${p.found}`,
  },
  'not-run': {
    means: 'A standing scenario could not be run.',
    says: (p: { scenario: string; why: string }) => `${p.scenario}: not run, ${p.why}`,
  },
  'not-modelled': {
    means: 'Things that the coupled bench leaves out.',
    says: () =>
      'left out: heat of the driver, fuses, several districts on one supply, the place of a short other than the weakest, trains that move along the track, dirt',
  },
})
