/** Parts of the design file beside the track that name its sections, after a section was cut or got another name. */
import type { DesignChange } from './edit.js'

export interface RenamedSections {
  /** New names by old ones. */
  names: ReadonlyMap<string, string>
  /** The section that was cut in two, and its length before, mm. */
  cut: string
  lengthMm: number
}

interface Named {
  traffic?: { stops?: Record<string, { section?: string; length?: unknown }> }
  benchNotes?: { readings?: { at?: string }[] }
}

/**
 * Stops of trains and places of readings keep what they name; a stop as long as the cut section keeps its length.
 * @param data the file's plain data, as written.
 */
export function followRenamed(data: unknown, { names, cut, lengthMm }: RenamedSections): DesignChange[] {
  const { traffic, benchNotes } = (data ?? {}) as Named
  const changes: DesignChange[] = []
  for (const [stop, own] of Object.entries(traffic?.stops ?? {})) {
    const path = ['traffic', 'stops', stop]
    const next = names.get(own?.section ?? '')
    if (next !== undefined) changes.push({ path: [...path, 'section'], value: next })
    if (own?.section === cut && own.length === undefined)
      changes.push({ path: [...path, 'length'], value: `${lengthMm} mm` })
  }
  benchNotes?.readings?.forEach((reading, i) => {
    const next = names.get(reading?.at ?? '')
    if (next !== undefined) changes.push({ path: ['benchNotes', 'readings', i, 'at'], value: next })
  })
  return changes
}
