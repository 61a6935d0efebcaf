/** What is said at the beginning of a design, as codes with parameters. */
import { findingTable } from '../finding/index.js'

export const startFindings = findingTable('start', {
  'unknown-choice': {
    means: 'An answer is none of the choices of its question.',
    remedy: 'Give one of the choices.',
    says: (p: { question: string; given: string; choices: readonly string[]; near: string | undefined }) =>
      `${p.question}: "${p.given}" is not one of the choices${p.near === undefined ? '' : `; the nearest is ${p.near}`}; expected one of ${p.choices.join(', ')}`,
  },
  'bad-value': {
    means:
      'An answer is not a quantity, number or list of the kind that its question asks for, or is out of range.',
    remedy: 'Write it as in the example.',
    says: (p: { question: string; given: string; expected: string }) =>
      `${p.question}: "${p.given}"; expected ${p.expected}`,
  },
  'not-sound': {
    means: 'With these answers no design meets every clause that can be calculated; a broken one is named.',
    remedy: 'Take the nearest choice that works; it is named in the same message.',
    says: (p: { because: string }) => p.because,
  },
  'sound-with': {
    means: 'The nearest change of one answer, or of two, with which every calculated clause is met.',
    says: (p: { changes: readonly string[] }) => `it works with ${p.changes.join(' and ')}`,
  },
  'no-sound-near': {
    means: 'None of the changes of one or two answers that were tried makes the design work.',
    says: () => 'none of the changes of one or two answers that were tried makes it work',
  },
  'no-pin': {
    means: 'The controller has no pin left for an input or output that the station needs.',
    remedy: 'Choose a controller with more pins.',
    says: (p: { chip: string; use: string }) => `the ${p.chip} has no free pin for ${p.use}`,
  },
  'no-timer': {
    means: 'No timer of the controller makes the signal with this clock, or on this pin.',
    remedy: 'Leave the pin open, or choose another clock or controller.',
    says: (p: { chip: string; why: string }) => `no timer of the ${p.chip} makes the signal: ${p.why}`,
  },
  'no-pair': {
    means: 'The driver takes a signal for each leg, and the controller cannot make such a pair.',
    remedy: 'Choose a driver with a single polarity input, or another controller.',
    says: (p: { chip: string; driver: string }) =>
      `the ${p.driver} takes a signal for each leg, and no timer of the ${p.chip} makes such a pair with this clock`,
  },
  'loop-too-short': {
    means: 'A train in a return loop must fit between the gaps at its two ends.',
    remedy: 'Make the loop larger or the train shorter.',
    says: (p: { loopMm: number; trainMm: number }) =>
      `the loop is ${Math.round(p.loopMm)} mm long between its gaps, the longest train ${Math.round(p.trainMm)} mm: it must fit between them`,
  },
})
