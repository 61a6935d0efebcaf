/** From first power to first train, in the order in which nothing can be harmed that was not looked at before. */
import type { BookSources } from '../contents/sources.js'
import { controllerSteps } from './controller-steps.js'
import { driverSteps } from './driver-steps.js'
import type { Step } from './step.js'
import { supplySteps } from './supply-steps.js'
import { trackSteps } from './track-steps.js'

export function bringUp(s: BookSources): Step[] {
  return [...supplySteps(s), ...controllerSteps(s), ...driverSteps(s), ...trackSteps(s)]
}
