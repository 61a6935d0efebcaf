/** Forms that several keys of a scenario file have. */
import type { Shape } from '../../shape/index.js'

/** No scenario lasts longer, us: a day. */
const LONGEST_US = 24 * 3600e6

export const optional = <const S extends Shape>(s: S) => ({ ...s, optional: true as const })
export const time = (title: string, help: string, example: string) =>
  ({ kind: 'quantity', dimension: 'time', title, help, min: 0, max: LONGEST_US, example }) as const
export const name = (title: string, help: string, example: string) =>
  ({ kind: 'text', title, help, maxLength: 200, example }) as const
export const yes = (title: string, help: string) => ({ kind: 'switch', title, help, example: true }) as const
export const onOff = (title: string, help: string) =>
  ({ kind: 'choice', title, help, choices: { on: 'switched on', off: 'switched off' } }) as const

export const train = name('train', 'A locomotive by its name in the fleet of the design.', 'express')
