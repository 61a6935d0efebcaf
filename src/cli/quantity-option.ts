/** Options that are quantities. */
import { type Dimension, InputError, parseQuantity } from '../units/index.js'
import type { Arguments } from './command.js'

/**
 * The value of `--name` in the base unit of its dimension; undefined when it was not given.
 * @throws InputError when it is no such quantity or outside the limits.
 */
export function quantityOption(
  args: Arguments,
  name: string,
  dimension: Dimension,
  limits: { min?: number; max?: number; says?: string } = {},
): number | undefined {
  const text = args.text(name)
  if (text === undefined) return undefined
  const parsed = parseQuantity(text, dimension)
  if (!parsed.ok) throw new InputError(`--${name} ${text}; expected ${parsed.expected}`)
  const { min = Number.NEGATIVE_INFINITY, max = Number.POSITIVE_INFINITY } = limits
  if (parsed.value < min || parsed.value > max) {
    throw new InputError(`--${name} ${text}; expected ${limits.says ?? `${min} to ${max}`}`)
  }
  return parsed.value
}

/**
 * A whole number of an option.
 * @throws InputError when it is none, or outside its limits.
 */
export function countOption(args: Arguments, name: string, min: number, max: number): number | undefined {
  const text = args.text(name)
  if (text === undefined) return undefined
  const value = Number(text)
  if (text.trim() === '' || !Number.isInteger(value) || value < min || value > max)
    throw new InputError(`--${name} ${text}; expected a whole number from ${min} to ${max}`)
  return value
}
