/** Design parts for tests: written as in the file, filled with the shape's defaults. */

import type { Shape } from '../../src/shape/index.js'
import type { RollingStockDesign, TrackDesign } from '../../src/track/design/track.js'
import { rollingStockShape, trackShape } from '../../src/track/design/track.js'
import type { DistrictSource } from '../../src/track/network/network.js'
import { parseQuantity } from '../../src/units/index.js'

function fill(shape: Shape, raw: unknown): unknown {
  switch (shape.kind) {
    case 'quantity': {
      const parsed = parseQuantity((raw ?? shape.default) as string, shape.dimension)
      if (!parsed.ok) throw new Error(`${String(raw)}: expected ${parsed.expected}`)
      return parsed.value
    }
    case 'number':
    case 'text':
    case 'choice':
    case 'switch':
      return raw ?? shape.default
    case 'list':
      return (Array.isArray(raw) ? raw : [raw]).map((x) => fill(shape.of, x))
    case 'named':
      return Object.fromEntries(
        Object.entries(raw as Record<string, unknown>).map(([k, v]) => [k, fill(shape.of, v)]),
      )
    case 'record': {
      const given = raw as Record<string, unknown>
      const out: Record<string, unknown> = {}
      for (const key of Object.keys(given)) if (!shape.keys[key]) throw new Error(`no key ${key}`)
      for (const [key, inner] of Object.entries(shape.keys)) {
        const hasDefault = 'default' in inner && inner.default !== undefined
        if (given[key] === undefined && !hasDefault) {
          if (inner.optional) continue
          throw new Error(`${key} is missing`)
        }
        out[key] = fill(inner, given[key])
      }
      return out
    }
    case 'either':
      return raw
  }
}

export function trackOf(raw: unknown): TrackDesign {
  return fill(trackShape, raw) as TrackDesign
}

export function stockOf(raw: unknown): RollingStockDesign {
  return fill(rollingStockShape, raw) as RollingStockDesign
}

/** A stiff source without spread, unless told otherwise. */
export function sourceOf(volt = 15, own: Partial<DistrictSource> = {}): DistrictSource {
  return {
    openVolt: { low: volt, usual: volt, high: volt },
    sourceOhm: 0.1,
    tripAmp: 3,
    tripTimeUs: (amp) => (amp > 3 ? 20_000 : Number.POSITIVE_INFINITY),
    ...own,
  }
}
