/** Plain objects with quantities as people write them → values with defaults, for tests that need no file. */
import type { Shape, Value } from '../../src/shape/index.js'
import { parseQuantity } from '../../src/units/index.js'

export function fill<const S extends Shape>(shape: S, raw: unknown): Value<S> {
  return read(shape, raw, '') as Value<S>
}

function read(shape: Shape, raw: unknown, at: string): unknown {
  if (raw === undefined && 'default' in shape) return read(shape, shape.default, at)
  switch (shape.kind) {
    case 'quantity': {
      const parsed = parseQuantity(raw as string, shape.dimension)
      if (!parsed.ok) throw new Error(`${at}: ${String(raw)}, expected ${parsed.expected}`)
      if (parsed.value < (shape.min ?? -Infinity) || parsed.value > (shape.max ?? Infinity))
        throw new Error(`${at}: out of range`)
      return parsed.value
    }
    case 'list': {
      const list = shape.orOne && !Array.isArray(raw) ? [raw] : (raw as unknown[])
      return list.map((item, i) => read(shape.of, item, `${at}.${i}`))
    }
    case 'named':
      return Object.fromEntries(
        Object.entries(raw as object).map(([k, v]) => [k, read(shape.of, v, `${at}.${k}`)]),
      )
    case 'record': {
      const given = (raw ?? {}) as Record<string, unknown>
      for (const key of Object.keys(given))
        if (!(key in shape.keys)) throw new Error(`${at}: unknown key ${key}`)
      const out: Record<string, unknown> = {}
      for (const [key, part] of Object.entries(shape.keys)) {
        if (given[key] === undefined && (part.optional || part.kind === 'record') && !('default' in part))
          continue
        out[key] = read(part, given[key], `${at}.${key}`)
      }
      return out
    }
    default:
      if (raw === undefined) throw new Error(`${at}: missing`)
      return raw
  }
}
