import type { Design } from '../design/index.js'

/**
 * What of a design the result of a run or a capture depends on. When it has changed since, that result says nothing of
 * the design as it is now.
 */
export function dependsOn(
  { controller, signal, standard, scale, captures, firmware, fleet, traffic, power }: Design,
  kind: 'run' | 'capture',
): string {
  const outputs = Object.entries(signal.outputs).map(([name, { mode, pin, inverted, cutout }]) => {
    return [name, mode, cutout, ...(kind === 'run' ? [pin, inverted] : [])]
  })
  const own = kind === 'run' ? [controller.chip, controller.clock.frequency, firmware, power] : [captures]
  return JSON.stringify([kind, outputs, standard, scale, fleet, traffic, ...own])
}
