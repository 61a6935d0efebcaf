/** What of a text with problems can still be calculated: its sound parts, with the others as they were before. */
import { parseDocument } from 'yaml'
import { DesignError } from '../../design/index.js'
import { loadOnce } from './loaded.js'

export interface Salvaged {
  /** A sound text. */
  text: string
  /** Top keys that are as in the last sound text, and those that are left out as there is none of them. */
  before: string[]
  without: string[]
}

interface Part {
  key: string
  text: string
}

const TOP_KEY = /^(["']?)([A-Za-z]\w*)\1\s*:/

/** The text by its top keys; what stands above the first goes with it. */
function partsOf(text: string): Part[] {
  const parts: Part[] = []
  for (const line of text.split('\n')) {
    const key = TOP_KEY.exec(line)?.[2]
    const now = parts.at(-1)
    if (now && (key === undefined || now.key === '')) {
      now.text += `\n${line}`
      if (now.key === '' && key !== undefined) now.key = key
    } else parts.push({ key: key ?? '', text: line })
  }
  return parts
}

const joined = (parts: readonly Part[]) => parts.map((p) => p.text).join('\n')
const isBrokenYaml = (text: string) => parseDocument(text, { prettyErrors: false }).errors.length > 0

/** Keys of the parts that are at fault; empty where that cannot be said. */
function culprits(parts: readonly Part[]): Set<string> | undefined {
  const text = joined(parts)
  if (isBrokenYaml(text)) return new Set(parts.filter((p) => isBrokenYaml(p.text)).map((p) => p.key))
  try {
    loadOnce(text)
    return undefined
  } catch (error) {
    if (!(error instanceof DesignError)) throw error
    return new Set(error.problems.flatMap((p) => (typeof p.path[0] === 'string' ? [p.path[0]] : [])))
  }
}

/**
 * Puts the last sound text's parts in the place of those with problems.
 * @param last the last text without problems, if there was one
 * @returns `undefined` where nothing sound comes of it, or nothing else than the last text
 */
export function salvage(text: string, last: string | undefined): Salvaged | undefined {
  const old = last === undefined ? [] : partsOf(last)
  const oldOf = (key: string) => old.find((p) => p.key === key)
  let parts = partsOf(text)
  const before = new Set<string>()
  const without = new Set<string>()
  // Each round takes at least one more part from before, or ends.
  for (let round = 0; round <= parts.length + old.length; round++) {
    const wrong = culprits(parts)
    if (wrong === undefined) {
      const made = joined(parts)
      return made === last ? undefined : { text: made, before: [...before], without: [...without] }
    }
    const next = [...wrong].filter((key) => !before.has(key) && !without.has(key))
    if (next.length === 0) return undefined
    for (const key of next) {
      const replacement = oldOf(key)
      ;(replacement ? before : without).add(key)
      const rest = parts.filter((p) => p.key !== key)
      if (replacement && parts.length === rest.length) parts = [...rest, replacement]
      else parts = replacement ? parts.map((p) => (p.key === key ? replacement : p)) : rest
      if (replacement || last === undefined) continue
      // A key that never was: where one of before is missing, it was renamed.
      for (const gone of old.filter((o) => !parts.some((p) => p.key === o.key))) {
        parts = [...parts, gone]
        before.add(gone.key)
      }
    }
  }
  return undefined
}
