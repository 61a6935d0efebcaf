/** What the coupled bench says of commands: acted on, late, or never, and of power that is switched off. */
import { formatTimeUs } from '../units/index.js'

const each = (p: { count: number; worstUs: number }) =>
  `${p.count === 1 ? '' : ', each'} within ${formatTimeUs(p.worstUs)}`

export const COMMAND_WORDS = {
  acted: {
    means: 'Every command was acted on in time by its decoder.',
    says: (p: { count: number; worstUs: number }) =>
      `${p.count === 1 ? '1 command is' : `${p.count} commands are`} acted on${each(p)}`,
  },
  'acted-with-power': {
    means: 'Commands that came while there was no power on the rails were acted on once it was back.',
    says: (p: { count: number; worstUs: number }) =>
      `${p.count === 1 ? '1 command that met rails without power is' : `${p.count} commands that met rails without power are`} acted on once it is back${each(p)}`,
  },
  'never-acted': {
    means: 'A decoder never acted on a command.',
    remedy: 'Check in the list of packets heard what was sent instead.',
    says: (p: { command: string; decoder: string; why: string }) =>
      `${p.decoder} never acts on "${p.command}": ${p.why}`,
  },
  'acted-late': {
    means: 'A decoder acted on a command too late.',
    says: (p: { command: string; decoder: string; tookUs: number; within: number }) =>
      `${p.decoder} acts on "${p.command}" after ${formatTimeUs(p.tookUs)}; expected within ${formatTimeUs(p.within)}`,
  },
  'power-off-obeyed': {
    means: 'Power went off when it was commanded off, and stayed off.',
    says: (p: { tookUs: number }) =>
      `power is off ${formatTimeUs(p.tookUs)} after the command to switch it off`,
  },
  'power-off-late': {
    means: 'Power went off when it was commanded off, but later than the design asks for.',
    says: (p: { tookUs: number; within: number }) =>
      `power is off ${formatTimeUs(p.tookUs)} after the command to switch it off; expected within ${formatTimeUs(p.within)}`,
  },
  'power-off-ignored': {
    means: 'Power did not go off when it was commanded off, or came back by itself.',
    remedy: 'Check whether the command reaches every enable pin, and what switches power on again.',
    says: (p: { district: string; waitedUs: number }) =>
      `${p.district} has power ${formatTimeUs(p.waitedUs)} after the command to switch it off`,
  },
} as const
