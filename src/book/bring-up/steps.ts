/** From first power to first train, in the order in which nothing can be harmed that was not looked at before. */
import type { BookSources } from '../contents/sources.js'
import { controllerSteps } from './controller-steps.js'
import { driverSteps } from './driver-steps.js'
import type { Hazards } from './hazards.js'
import type { Step } from './step.js'
import { NO_STAGE_STEP, noPowerStep, noTrainStep } from './stop.js'
import { supplySteps } from './supply-steps.js'
import { trackSteps, trainSteps } from './track-steps.js'

/** @param hazards what forbids to go on, or to begin. */
export function bringUp(s: BookSources, hazards: Hazards): Step[] {
  if (hazards.power.length > 0) return [noPowerStep(hazards)]
  if (!s.loaded.design.power) return [...controllerSteps(s), NO_STAGE_STEP]
  const powered = [...supplySteps(s), ...controllerSteps(s), ...driverSteps(s), ...trackSteps(s)]
  if (hazards.train.length > 0) return [...powered, noTrainStep(hazards)]
  return [...powered, ...trainSteps(s)]
}

/** What is the same for all steps. */
export function beforeBringUp(steps: readonly Step[]): string[] {
  if (steps.every((s) => s.stop)) return []
  const instruments = [...new Set(steps.map((s) => s.instrument))].filter((i) => i !== 'none')
  return [
    'Take the steps in order; do not go on while a reading is off. Tolerances are from the worst and best corners of the design; add the error of your own instrument.',
    'Wire in the order of the wiring list, with every supply unplugged. Leave all fuses out until a step says which one goes in.',
    'Keep the plugs of the supplies within reach. If you see smoke, smell burning or find a part too hot to touch, pull them, and do not plug in again before you have found the cause. Also unplug them before you change a wire.',
    `To have at hand: ${instruments.join('; ')}.`,
  ]
}
