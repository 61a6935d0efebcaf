import type { Shape } from '../../shape/index.js'

/** An optional quantity, to keep the tables below readable. */
export function figure<const D extends (Shape & { kind: 'quantity' })['dimension']>(
  dimension: D,
  title: string,
  example: string,
  limits: { min?: number; max?: number } = {},
) {
  return { kind: 'quantity', dimension, title, example, min: 0, ...limits, optional: true } as const
}
