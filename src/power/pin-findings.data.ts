/** What the plan of driver-board pins has to say of one pin; each sentence goes on from the pin's name. */
import { findingTable } from '../finding/index.js'

export const PIN_PLAN_FINDINGS = findingTable('pin-plan', {
  'tied-direction': {
    means: 'A direction input that is tied to a level carries no signal.',
    remedy: 'Wire it to the pin of the output.',
    says: () => 'a tied direction input carries no signal',
  },
  'tied-and-wired': {
    means: 'A pin is both tied to a level and wired to the controller.',
    says: (p: { tied: string; wired: string }) => `both tied ${p.tied} and wired to ${p.wired}`,
  },
  'which-output': {
    means: 'The driver carries several outputs and the pin does not say which one it serves.',
    says: (p: { outputs: readonly string[] }) =>
      `the driver carries the outputs ${p.outputs.join(', ')}: say with "output" which one this pin serves`,
  },
  'no-such-output': {
    means: 'The pin names an output that the design does not have.',
    says: (p: { output: string; outputs: readonly string[] }) =>
      `there is no output "${p.output}"; expected one of ${p.outputs.join(', ')}`,
  },
  'no-inverted-signal': {
    means: 'The input needs the opposite level, which the output does not make.',
    says: (p: { output: string }) =>
      `output ${p.output} makes no inverted signal; give it an inverted pin, or feed this input through an inverter gate and give it the role other`,
  },
  'wrong-pin': {
    means: 'The pin of the board meets a different controller pin from the one that the signal comes out of.',
    remedy: 'Bend its contact out and fit a jumper, or choose the pin it sits on for the output.',
    says: (p: { meets: string; output: string; wanted: string }) =>
      `sits on ${p.meets}, but the signal of output ${p.output} comes out of ${p.wanted}: bend its contact out of ${p.meets} and fit a jumper from ${p.wanted}`,
  },
  'not-connected': {
    means: 'The signal of the output does not reach the driver.',
    remedy: 'Wire it to the pin of the output.',
    says: (p: { output: string; wanted: string }) =>
      `is not connected; the signal of output ${p.output} comes out of ${p.wanted}`,
  },
  floats: {
    means: 'An open input can take any level.',
    remedy: 'Wire it or tie it.',
    says: () => 'is neither wired nor tied: an open input floats',
  },
  shared: {
    means: 'One controller pin serves two purposes.',
    says: (p: { pin: string; users: readonly string[] }) => `${p.pin} also serves ${p.users.join(', ')}`,
  },
  reserved: {
    means: 'The design reserves the controller pin for other code.',
    says: (p: { pin: string }) => `${p.pin} is reserved for other code`,
  },
  'no-analog-input': {
    means: 'The controller cannot measure a voltage at this pin.',
    remedy: 'Choose a pin with an analog input.',
    says: (p: { pin: string }) => `${p.pin} has no analog input`,
  },
  'carries-signal': {
    means: 'The controller pin already carries the signal of an output.',
    says: (p: { pin: string; output: string }) => `${p.pin} already carries the signal of output ${p.output}`,
  },
})
