/** What this room says beside figures. */
import { findingTable } from '../finding/index.js'
import { formatShare, formatTimeUs } from '../units/index.js'

const plural = (n: number, one: string, many = `${one}s`) => `${n} ${n === 1 ? one : many}`

export const TRAFFIC_FINDINGS = findingTable('traffic', {
  'no-command-pattern': {
    means: 'The design does not say what a command looks like on the serial line of its firmware.',
    remedy: 'Describe the firmware’s commands in the design, under firmware.commands.',
    says: () =>
      'the design does not say what commands look like on the serial line, so what the firmware does with them is not shown',
  },
  'no-commands': {
    means: 'Nothing that came in on the serial line matched a command pattern of the design.',
    remedy: 'Give the run a stimulus that sends commands, or correct the patterns.',
    says: ({ source, bytes }: { source: string; bytes: number }) =>
      bytes === 0
        ? `${source}: nothing was sent to the firmware`
        : `${source}: of ${plural(bytes, 'byte')} sent to the firmware, none matched a command pattern of the design`,
  },
  'too-many-packets': {
    means: 'The run sent more packets than can be kept for following commands.',
    remedy: 'Let the firmware run for a shorter time.',
    says: ({ source, most }: { source: string; most: number }) =>
      `${source}: more than ${most} packets; commands are not followed in so long a run`,
  },
  'commands-heard': {
    means: 'Each command was followed from the serial line to the first packet that carries it.',
    says: (p: {
      source: string
      commands: number
      worst: string
      worstUs: number
      limitUs: number
      superseded: number
    }) =>
      `${p.source}: ${plural(p.commands, 'command')} heard, the slowest (${p.worst}) after ${formatTimeUs(p.worstUs)}; the limit is ${formatTimeUs(p.limitUs)}${p.superseded > 0 ? `; ${p.superseded} more ${p.superseded === 1 ? 'was' : 'were'} replaced by the next command` : ''}`,
  },
  'command-late': {
    means: 'Too many commands took longer to reach the rails than the design allows.',
    remedy: 'Send changes ahead of the refresh.',
    says: (p: {
      source: string
      late: number
      commands: number
      worst: string
      worstUs: number
      limitUs: number
    }) =>
      `${p.source}: ${p.late} of ${plural(p.commands, 'command')} (${formatShare(p.late / p.commands)}) were heard later than ${formatTimeUs(p.limitUs)}, the slowest (${p.worst}) after ${formatTimeUs(p.worstUs)}`,
  },
  'command-not-heard': {
    means: 'A command came in on the serial line, but no packet ever carried it.',
    remedy:
      'Check what the firmware does with the command: whether it reads it, understands it, and sends it.',
    says: (p: { source: string; missing: number; commands: number; first: string; waitedUs: number }) =>
      `${p.source}: ${p.missing} of ${plural(p.commands, 'command')} never reached the rails; "${p.first}" was not heard within ${formatTimeUs(p.waitedUs)}`,
  },
  'command-undone': {
    means: 'After a command had been heard, a packet told the locomotive something else, without a command.',
    remedy: 'Let the refresh send the newest state.',
    says: (p: { source: string; undone: number; first: string; packet: string; atUs: number }) =>
      `${p.source}: after "${p.first}" the packet ${p.packet} at ${formatTimeUs(p.atUs, 7)} contradicts it${p.undone > 1 ? `; the same happens to ${p.undone} commands` : ''}`,
  },
  uncommanded: {
    means: 'A packet starts a locomotive for which there was no command.',
    remedy:
      'If the firmware runs trains by itself, nothing is wrong; otherwise it acts on the wrong address.',
    says: (p: { source: string; address: string; atUs: number; count: number }) =>
      `${p.source}: locomotive ${p.address} is started at ${formatTimeUs(p.atUs, 7)}, though no command named it${p.count > 1 ? ` (nor ${p.count - 1} others)` : ''}`,
  },
  'run-too-short': {
    means: 'The run ended before the time limit of the commands.',
    remedy: 'Let the firmware run longer after the last command.',
    says: ({ source, waiting }: { source: string; waiting: number }) =>
      `${source}: the run ends before the time limit of ${plural(waiting, 'command')}`,
  },
  'state-refreshed': {
    means: 'What was commanded was repeated before the time-out of its decoder.',
    says: (p: { source: string; states: number; worst: string; worstUs: number; timeoutUs: number }) =>
      `${p.source}: ${plural(p.states, 'commanded state')} repeated; ${p.worst} waited ${formatTimeUs(p.worstUs)} at most, the time-out is ${formatTimeUs(p.timeoutUs)}`,
  },
  'state-not-refreshed': {
    means: 'What was commanded was not repeated before the time-out of its decoder.',
    remedy: 'Refresh every state in use, most often the speed.',
    says: (p: {
      source: string
      states: number
      outside: number
      worst: string
      worstUs: number
      timeoutUs: number
    }) =>
      `${p.source}: ${p.outside} of ${plural(p.states, 'commanded state')} not repeated in time; ${p.worst} waited ${formatTimeUs(p.worstUs)}, the time-out is ${formatTimeUs(p.timeoutUs)}`,
  },
  'refresh-undecided': {
    means: 'The run cannot tell whether every state is refreshed in time.',
    remedy: 'Enter the time-outs of the fleet (CV11), and let the firmware run longer than those.',
    says: (p: { source: string; untimed: number; short: number; first: string; longestUs: number }) =>
      [
        `${p.source}: the longest pause is ${formatTimeUs(p.longestUs)}`,
        ...(p.untimed > 0 ? [`${plural(p.untimed, 'state')} without a time-out to compare with`] : []),
        ...(p.short > 0
          ? [`${plural(p.short, 'state')} watched for less than the time-out, such as ${p.first}`]
          : []),
      ].join('; '),
  },
  'service-command-seen': {
    means: 'Each service-mode command was followed from the serial line to its packets on the service track.',
    says: ({ source, commands }: { source: string; commands: number }) =>
      `${source}: ${plural(commands, 'service-mode command')} sent as packets`,
  },
  'service-command-missing': {
    means: 'A service-mode command came in, but its packets were never sent on the service track.',
    remedy: 'See what the firmware does with the command.',
    says: (p: { source: string; missing: number; commands: number; first: string }) =>
      `${p.source}: ${p.missing} of ${plural(p.commands, 'service-mode command')} were never sent as packets; the first is "${p.first}"`,
  },
})
