/** What the coupled bench says beside figures. */
import { findingTable } from '../finding/index.js'
import { formatShare, formatSi, formatTimeUs } from '../units/index.js'
import { COMMAND_WORDS } from './command-words.data.js'

const list = (names: readonly (string | number)[]) =>
  names.length > 1 ? `${names.slice(0, -1).join(', ')} and ${names.at(-1)}` : String(names[0])

function underPlan(p: {
  district: string
  carriedAmp: number
  ranUs: number
  hottestC: number
  junctionMaxC: number
}): string {
  const heat = Number.isFinite(p.hottestC) ? `reaches ${p.hottestC.toFixed(0)} °C` : 'heats up without limit'
  return `the run loads ${p.district} with ${formatSi(p.carriedAmp, 'A', 3)} for ${formatTimeUs(p.ranUs)}; if that lasts, its driver ${heat}, as calculated; its limit is ${p.junctionMaxC} °C`
}

export const BENCH_FINDINGS = findingTable('bench', {
  'short-off': {
    means: 'A short was switched off in time.',
    says: (p: { where: string; tookUs: number; by: string; also: readonly string[] }) =>
      `a short ${p.where} is off after ${formatTimeUs(p.tookUs)}, by ${p.by}${p.also.length > 0 ? `; ${list(p.also)} ${p.also.length > 1 ? 'lose' : 'loses'} power too` : ''}`,
  },
  'short-late': {
    means: 'A short was switched off, but later than the design allows.',
    remedy: 'Read the current more often, or require fewer readings in a row.',
    says: (p: { where: string; tookUs: number; by: string; allowedUs: number }) =>
      `a short ${p.where} is off only after ${formatTimeUs(p.tookUs)}, by ${p.by}; at most ${formatTimeUs(p.allowedUs)} is allowed`,
  },
  'short-on-again': {
    means: 'A short was switched off, and then on again while it lasted.',
    remedy:
      'Stay off until a command switches power on again, or wait longer than the trip takes before each retry, and trip again each time.',
    says: (p: { where: string; amp: number; offForUs: number; onForUs: number }) =>
      `a short ${p.where} is switched off and, ${formatTimeUs(p.offForUs)} later, on again: up to ${formatSi(p.amp, 'A')} flow for another ${formatTimeUs(p.onForUs)}`,
  },
  'short-attempts': {
    means: 'Power is switched on again and again into a lasting short, and the mean heat is too high.',
    remedy: 'Wait longer before each retry, or stay off until a command switches power on again.',
    says: (p: { where: string; amp: number; onUs: number; offUs: number; because: string }) =>
      `a short ${p.where} is switched off and on again, up to ${formatSi(p.amp, 'A')} for ${formatTimeUs(p.onUs)} and off for ${formatTimeUs(p.offUs)} on average; ${p.because}`,
  },
  'short-stays-on': {
    means: 'A short was not switched off while it lasted.',
    remedy:
      'Check whether the firmware reads the sense pin of that district, and what it does with the reading.',
    says: (p: { where: string; amp: number; lastedUs: number }) =>
      `a short ${p.where} draws ${p.amp.toFixed(1)} A for ${formatTimeUs(p.lastedUs)}, and nothing switches it off`,
  },
  'short-brief': {
    means: 'A short went away before it had to be switched off.',
    says: (p: { where: string; lastedUs: number; allowedUs: number }) =>
      `a short ${p.where} lasts ${formatTimeUs(p.lastedUs)} and is not switched off; up to ${formatTimeUs(p.allowedUs)} is allowed`,
  },
  'short-without-power': {
    means: 'The rails had no power when they were shorted, so nothing is shown.',
    says: (p: { where: string }) => `the rails have no power when they are shorted ${p.where}`,
  },
  'short-off-since-hang': {
    means: 'The rails lost power after the program had hung, and had none when they were shorted.',
    says: (p: { where: string }) =>
      `since the program hangs the rails have no power, so that a short ${p.where} draws nothing`,
  },
  'never-shorted': {
    means: 'Nothing shorted the rails: the train that should derail was not moving.',
    remedy: 'Drive the train before it derails, and leave it derailed for longer.',
    says: (p: { where: string }) => `nothing shorts the rails ${p.where}`,
  },
  'power-back': {
    means: 'After a short, the rails had power and packets again.',
    says: (p: { district: string; tookUs: number }) =>
      p.tookUs > 0
        ? `power is back in ${p.district} ${formatTimeUs(p.tookUs)} after the short has gone`
        : `${p.district} has power after the short has gone`,
  },
  'power-stays-off': {
    means: 'Power did not come back after the short had gone.',
    remedy: 'Let the firmware retry, or give it a command that turns track power on.',
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
    remedy:
      'Require more readings in a row above the threshold, or raise the threshold as far as the driver allows.',
    says: (p: { district: string; atUs: number; peakAmp: number }) =>
      `${p.district} is switched off at ${formatTimeUs(p.atUs)} without a short, at up to ${p.peakAmp.toFixed(1)} A`,
  },
  'still-after-restart': {
    means: 'After the controller had restarted, every locomotive stopped, and the next command was obeyed.',
    says: (p: { stoppedUs: number; decoder: string }) =>
      `after a restart of the controller every locomotive has stopped within ${formatTimeUs(p.stoppedUs)} and none moves until ${p.decoder} is commanded`,
  },
  'silent-after-restart': {
    means: 'The firmware did not come back after the controller had restarted: no packet was sent.',
    remedy:
      'Check what the firmware waits for when it starts: it must come back after an external reset as it does after power-up.',
    says: (p: { watchedUs: number }) =>
      `after a restart of the controller no packet is sent for ${formatTimeUs(p.watchedUs)}: the firmware does not come back`,
  },
  'dark-after-restart': {
    means:
      'Track power was off after the controller had restarted, and the command that turns it on had no effect.',
    remedy: 'Check whether the firmware still reads its serial line after a reset, and sets its enable pins.',
    says: (p: { district: string }) =>
      `after a restart of the controller ${p.district} has no power, even after the command that switches it on`,
  },
  'deaf-after-restart': {
    means: 'After the controller had restarted, packets were sent, but a command moved no locomotive.',
    remedy: 'Check whether the firmware still reads its serial line after a reset.',
    says: (p: { decoder: string; waitedUs: number }) =>
      `after a restart of the controller ${p.decoder} is commanded and does not start within ${formatTimeUs(p.waitedUs)}`,
  },
  'silent-after-short': {
    means: 'Power came back after a short, but without packets.',
    remedy: 'Keep sending packets, or begin again with resets and idles, before track power returns.',
    says: (p: { output: string }) => `after the short the rails of ${p.output} have power but no packets`,
  },
  'moves-after-restart': {
    means: 'After the controller had restarted, a locomotive went on, or started, without a command.',
    remedy: 'Begin with 20 reset packets and then idles, and keep no old state.',
    says: (p: { decoder: string; atUs: number }) =>
      `${p.decoder} still moves ${formatTimeUs(p.atUs)} after the controller has restarted, without a command`,
  },
  'cv-stored': {
    means: 'A decoder stored what was commanded.',
    says: (p: { cv: number; value: number }) => `CV${p.cv} = ${p.value} is written`,
  },
  'cv-was-there': {
    means: 'The decoder had the value from the beginning, so nothing is shown.',
    remedy: 'Write a value that the decoder does not have.',
    says: (p: { cv: number; value: number }) => `CV${p.cv} = ${p.value} was there before it was written`,
  },
  'cv-not-written': {
    means: 'The decoder on the service track did not store what was commanded.',
    remedy: 'Compare the packets on the service track with the sequence of the standard.',
    says: (p: { cv: number; value: number; found: number }) =>
      `CV${p.cv} should be ${p.value}; the decoder on the service track has ${p.found}`,
  },
  'cv-written-beside': {
    means: 'A decoder stored something that was not commanded for it, or more than once.',
    remedy:
      'Compare the packets on the service track with the sequence of the standard; none of them belongs on the main track.',
    says: (p: { cv: number; value: number; times: number; wanted: number; decoder?: string }) =>
      `CV${p.cv} = ${p.value} is written ${p.decoder === undefined ? '' : `in ${p.decoder} `}${p.times === 1 ? 'once' : `${p.times} times`}; ${p.wanted === 0 ? 'it was not commanded' : `it was commanded ${p.wanted === 1 ? 'once' : `${p.wanted} times`}`}`,
  },
  'answer-wrong': {
    means: 'The firmware took silence for an acknowledgement, missed one, or read a wrong value.',
    remedy: 'Take the idle current just before each operation, and look for 60 mA more for 5 to 7 ms.',
    says: (p: { command: string; wanted: string; found: string }) =>
      `after "${p.command}" the firmware should say ${p.wanted}; it says ${p.found}`,
  },
  answered: {
    means: 'The firmware answered as expected.',
    says: (p: { act: string; text: string; tookUs: number }) =>
      `the firmware answers "${p.act}" with ${JSON.stringify(p.text)}${p.tookUs > 0 ? ` after ${formatTimeUs(p.tookUs)}` : ''}`,
  },
  ...COMMAND_WORDS,
  'still-after-hang': {
    means: 'After the program hung, every train stopped and the rails kept no steady level.',
    says: (p: { stoppedUs: number; how: 'restart' | 'power' | 'time-out' }) =>
      `with the program hung every train has no command to move after ${formatTimeUs(p.stoppedUs)}: ${
        p.how === 'restart'
          ? 'the watchdog restarts the controller'
          : p.how === 'power'
            ? 'the rails lose power'
            : 'decoders stop at their time-out; until the controller is reset, the program notices no command and no short'
      }`,
  },
  'level-after-hang': {
    means:
      'After the program hung, the rails kept power of one polarity: analog power, on which trains can run away.',
    remedy:
      'Use a watchdog that restarts the controller, and design the enable circuit so that the driver switches off when the program stops.',
    says: (p: { district: string; lastedUs: number }) =>
      `with the program hung ${p.district} has steady voltage of one polarity for ${formatTimeUs(p.lastedUs)}`,
  },
  'runs-after-hang': {
    means: 'After the program hung, a train ran on and nothing stopped it.',
    remedy: 'Use a watchdog, and set the packet time-out CV11 of every decoder.',
    says: (p: { decoder: string; watchedUs: number }) =>
      `with the program hung ${p.decoder} still has a command to move after ${formatTimeUs(p.watchedUs)}`,
  },
  'moves-after-hang': {
    means: 'After the program hung, a train started without a command.',
    remedy: 'Begin with 20 reset packets and then idles after a restart, and keep no old state.',
    says: (p: { decoder: string; atUs: number }) =>
      `${formatTimeUs(p.atUs)} after the program has hung, ${p.decoder} starts without a command`,
  },
  'only-commanded': {
    means: 'No train moved without a command.',
    says: (p: { trains: number }) => `each of ${p.trains} trains moves only on command`,
  },
  'moves-uncommanded': {
    means: 'A train moved without a command.',
    says: (p: { decoder: string; atUs: number }) =>
      `${p.decoder} moves at ${formatTimeUs(p.atUs, 6)} without a command`,
  },
  'speed-uncommanded': {
    means: 'A decoder was sent a speed that had not been commanded.',
    remedy:
      'Check which address and speed step the packet has: 126 steps are sent as step + 1, and 1 is an emergency stop.',
    says: (p: { decoder: string; atUs: number; share: number }) =>
      `${p.decoder} is sent ${formatShare(p.share)} of full speed at ${formatTimeUs(p.atUs, 6)} without a command`,
  },
  'stops-uncommanded': {
    means: 'A train that was commanded to run was stopped without a command.',
    remedy: 'Check which packet stops it, and whether the firmware keeps the last speed of each locomotive.',
    says: (p: { decoder: string; atUs: number }) =>
      `${p.decoder} is stopped at ${formatTimeUs(p.atUs, 6)} without a command`,
  },
  'switches-uncommanded': {
    means: 'A decoder switched a function without a command.',
    remedy: 'Check which bit of the function group belongs to which function, and what is refreshed.',
    says: (p: { decoder: string; number: number; on: boolean; atUs: number }) =>
      `F${p.number} of ${p.decoder} goes ${p.on ? 'on' : 'off'} at ${formatTimeUs(p.atUs, 6)} without a command`,
  },
  'never-moves': {
    means: 'A train was commanded to move and never did.',
    says: (p: { decoder: string; command: string }) =>
      `${p.decoder} never moves, although "${p.command}" came in`,
  },
  'nothing-sent': {
    means: 'No packet was on rails with power, so the absence of movement shows nothing.',
    says: () => 'there was no packet on rails with power',
  },
  'never-happened': {
    means: 'An act of the scenario never happened, because what it waits for did not occur.',
    says: (p: { act: string }) => `"${p.act}" never happened: what it waits for did not occur`,
  },
  'nothing-to-judge': {
    means: 'The run gave nothing by which an expectation could be judged.',
    says: (p: { expectation: string }) => `nothing in the run shows ${p.expectation}`,
  },
  'driver-unknown': {
    means: 'The ratings of a driver are not known, so it cannot be judged.',
    says: (p: { district: string }) => `the ratings of the driver of ${p.district} are not known`,
  },
  'driver-withstands': {
    means: 'A driver withstood the currents of the run.',
    says: (p: { district: string; peakAmp: number; hottestC: number; junctionMaxC: number }) =>
      `the driver of ${p.district} carries up to ${p.peakAmp.toFixed(1)} A and reaches ${p.hottestC.toFixed(0)} °C of ${p.junctionMaxC} °C`,
  },
  'driver-carries-plan': {
    means: 'A driver carried the planned load, and would not get too hot however long that load lasted.',
    says: underPlan,
  },
  'driver-too-hot-for-plan': {
    means: 'A driver would get too hot if the planned load lasted.',
    remedy: 'Cool the driver better, or divide the district.',
    says: underPlan,
  },
  'driver-overheats': {
    means: 'The junction of a driver exceeded its maximum temperature in the run.',
    says: (p: { district: string; peakAmp: number; hottestC: number; junctionMaxC: number }) =>
      `the driver of ${p.district} carries up to ${p.peakAmp.toFixed(1)} A and reaches ${Number.isFinite(p.hottestC) ? `${p.hottestC.toFixed(0)} °C` : 'no stable temperature'}; its limit is ${p.junctionMaxC} °C`,
  },
  'driver-shorts': {
    means:
      'Both inputs of a bridge without a logic of its own were high at once, so that it shorted its supply.',
    remedy:
      'Change its two inputs in one instant, or leave a dead time between them, and never raise both to switch the track off.',
    says: (p: { district: string }) =>
      `both inputs of the driver of ${p.district} are high at once: both of its sides conduct, and it shorts its supply`,
  },
  'driver-overloaded': {
    means: 'A driver carried more than its absolute maximum current in the run.',
    says: (p: { district: string; peakAmp: number; mostAmp: number }) =>
      `the driver of ${p.district} carries up to ${p.peakAmp.toFixed(1)} A; its absolute maximum is ${p.mostAmp} A`,
  },
  'driver-brief': {
    means: 'A run was too short for a driver to warm up, so its heat is not shown.',
    remedy: 'Let the scenario last longer, with the planned load and without a short.',
    says: (p: { district: string; lastedUs: number; warmUs: number }) =>
      `the run loads ${p.district} for ${formatTimeUs(p.lastedUs)}; its driver takes ${formatTimeUs(p.warmUs)} to warm up`,
  },
  'light-load': {
    means: 'A run did not come near the planned load, so it does not show what happens under that load.',
    remedy: 'Drive every train at full speed and stall a motor, as in the worst planned load.',
    says: (p: { what: string; reachedAmp: number; plannedAmp: number }) =>
      `the run loads ${p.what} with ${formatSi(p.reachedAmp, 'A', 3)} of the ${formatSi(p.plannedAmp, 'A', 3)} planned at worst`,
  },
  'plan-unknown': {
    means: 'The design does not give the planned current, so no run can show that it was reached.',
    says: (p: { what: string }) => `the planned current of ${p.what} is not known`,
  },
  'supply-brief': {
    means: 'A run was too short to show what a supply gives.',
    says: (p: { supply: string; lastedUs: number }) =>
      `the run loads ${p.supply} for ${formatTimeUs(p.lastedUs)} before its rails are shorted or it ends; a second is needed`,
  },
  'supply-holds': {
    means: 'A supply gave the planned load within its rating.',
    says: (p: { supply: string; reachedAmp: number; ratingAmp: number; peakAmp: number }) =>
      `${p.supply} gives ${formatSi(p.reachedAmp, 'A', 3)} in its heaviest second, of a rating of ${formatSi(p.ratingAmp, 'A', 3)}; ${formatSi(p.peakAmp, 'A', 3)} at the peak`,
  },
  'supply-overloaded': {
    means: 'A supply gave more than its rating for a second or longer.',
    remedy: 'Choose a stronger supply, or divide the districts among more supplies.',
    says: (p: { supply: string; reachedAmp: number; ratingAmp: number; peakAmp: number }) =>
      `${p.supply} gives ${formatSi(p.reachedAmp, 'A', 3)} in its heaviest second; its rating is ${formatSi(p.ratingAmp, 'A', 3)}; ${formatSi(p.peakAmp, 'A', 3)} at the peak`,
  },
  'supply-off': {
    means: 'A supply switched off, or its fuse blew, although nothing shorted the rails.',
    remedy: 'Choose a stronger supply, or start fewer trains at once.',
    says: (p: { supply: string; atUs: number; peakAmp: number }) =>
      `${p.supply} switches off at ${formatTimeUs(p.atUs)} without a short, at up to ${formatSi(p.peakAmp, 'A', 3)}`,
  },
  'stops-inside': {
    means: 'Trains that were commanded to stop in a place came to rest inside it.',
    says: (p: { place: string; count: number; low: number; sure: number }) =>
      `${p.count} of ${p.count} stops in ${p.place} end inside, at least ${formatShare(p.low)} of all with 95 % confidence; wanted ${formatShare(p.sure)}`,
  },
  'stops-inside-at-worst': {
    means:
      'Trains that were commanded to stop in a place came to rest inside it, and would even in the worst case.',
    says: (p: { place: string; count: number; latestUs: number; faster: number }) =>
      `${p.count === 1 ? 'the stop' : `each of ${p.count} stops`} in ${p.place} ends inside, as it would with a command that is on the rails only ${formatTimeUs(p.latestUs)} after its cause, and with ${formatShare(p.faster)} more or less speed`,
  },
  'stops-outside': {
    means: 'A train that was commanded to stop in a place did not come to rest inside it.',
    remedy: 'Approach more slowly, or make the place longer.',
    says: (p: { place: string; train: string; ranMm: number; mmPerS: number }) =>
      `${p.train} is commanded to stop in ${p.place} at ${p.mmPerS.toFixed(0)} mm/s, runs ${p.ranMm.toFixed(0)} mm and is not inside`,
  },
  'stops-too-slow': {
    means: 'Trains stopped in a place, but approached more slowly than planned, so nothing is shown.',
    says: (p: { place: string }) => `trains approach ${p.place} more slowly than planned`,
  },
  'no-stop': {
    means: 'No train was commanded to stop in a place where trains have to stop.',
    says: (p: { place: string }) => `no train is commanded to stop in ${p.place}`,
  },
  'stop-place-unknown': {
    means: 'Where a place for stops lies on the track is not described.',
    remedy: 'Give the section of the stop.',
    says: (p: { place: string }) => `where ${p.place} lies on the track is not described`,
  },
  doubtful: {
    means:
      'The calculation found no consistent state of all limits, so nothing that depends on currents is shown.',
    says: (p: { atUs: number }) =>
      `from ${formatTimeUs(p.atUs, 6)} on the currents of the run may be wrong: no consistent state of all limits is found`,
  },
  'clause-of-run': {
    means: 'A clause of signal or traffic is not kept in the run.',
    says: (p: { clause: string; because: string }) => `${p.clause}: ${p.because}`,
  },
  'clauses-hold': {
    means: 'The clauses of signal or traffic that the run shows are kept.',
    says: (p: { what: string; clauses: readonly string[] }) => `${p.what} keeps ${list(p.clauses)}`,
  },
  'not-run': {
    means: 'A built-in scenario could not be run.',
    says: (p: { scenario: string; why: string }) => `${p.scenario}: not run, ${p.why}`,
  },
  'not-modelled': {
    means: 'What the coupled bench does not model.',
    says: () =>
      'not modelled: inductance of wires, current chopping by a driver (its mean counts), resistances that change with heat, coach wheels across gaps',
  },
})
