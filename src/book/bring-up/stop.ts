/** Where the bring-up ends because the proof says that the station is not sound. */
import { plain } from '../contents/figure.js'
import type { Hazards } from './hazards.js'
import type { Step } from './step.js'

const AGAIN = plain(
  'Change the design until these clauses are met, and make the book again. The steps that are missing here are in that book.',
)

/** In the place of all steps. */
export function noPowerStep({ power }: Hazards): Step {
  return {
    id: 'stop-power',
    title: 'Stop: do not switch this station on',
    stop: true,
    instrument: 'none',
    probes: plain('None. Leave every supply unplugged.'),
    expected: plain(
      'The proof of this design finds, or cannot rule out, something that can burn or break, or a short that is not switched off.',
    ),
    off: power.map((h) => plain(`${h.words}, ${h.verdict}. ${h.because}`)),
    not: AGAIN,
  }
}

/** In the place of all steps with a locomotive. */
export function noTrainStep({ train }: Hazards): Step {
  return {
    id: 'stop-train',
    title: 'Stop here: put no locomotive on the rails yet',
    stop: true,
    instrument: 'none',
    probes: plain('None. Switch the track off.'),
    expected: plain('The proof of this design cannot rule out that trains disobey their commands.'),
    off: train.map((h) => plain(`${h.words}, ${h.verdict}. ${h.because}`)),
    not: AGAIN,
  }
}

/** A design without a power stage: its book ends at the pins. */
export const NO_STAGE_STEP: Step = {
  id: 'stop-stage',
  title: 'The design ends here: it describes no power stage',
  stop: true,
  instrument: 'none',
  probes: plain('None.'),
  expected: plain(
    'The design has no supply, no driver, no fuse and no trip. This book does not say what may be connected to the pins of the controller.',
  ),
  off: [plain('Describe the power stage in the design, and make the book again.')],
  not: plain('Do not connect a driver, a supply or rails on the strength of this book.'),
}

/** A district without any trip has no coin test. */
export function noTripStep(name: string): Step {
  return {
    id: `coin-${name}`,
    title: `District ${name}: no coin test, as nothing trips`,
    stop: true,
    instrument: 'none',
    probes: plain('None.'),
    expected: plain(
      'The design describes nothing that switches off a short in this district: only its fuse and its supply limit the current.',
    ),
    off: [plain('If the district has such protection, describe it in the design, and make the book again.')],
    not: plain(
      `Do not short the rails of ${name}, do not leave it switched on unattended, and add a trip before trains run on it.`,
    ),
  }
}
