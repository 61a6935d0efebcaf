/** What is wrong with a name or a length of the layout. */
import { nearest } from '../../units/index.js'
import { DesignConflict } from '../design-conflict.js'
import type { Path } from './types.js'

export function positive(value: number, path: Path, what: string): number {
  if (!(value > 0)) throw new DesignConflict(path, `${what} must be above 0; found ${value / 1000} m`)
  return value
}

export function unknownName(path: Path, what: string, name: string, known: Iterable<string>): DesignConflict {
  const all = [...known]
  const close = nearest(name, all)
  const listed =
    all.length === 0
      ? 'the design has none'
      : all.length <= 12
        ? `expected one of ${all.join(', ')}`
        : undefined
  const hint = close ? `; the nearest is "${close}"` : listed ? `; ${listed}` : ''
  return new DesignConflict(path, `no ${what} "${name}"${hint}`)
}
