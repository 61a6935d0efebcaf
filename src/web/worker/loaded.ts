/** The designs read last, by their text: an edit, what follows from it and the drawings all ask for the same one. */
import { type LoadedDesign, loadDesign } from '../../design/index.js'

const KEPT = 4
const last = new Map<string, LoadedDesign>()

/** @throws DesignError with every problem of the text. */
export function loadOnce(text: string, file?: string): LoadedDesign {
  const loaded = last.get(text) ?? loadDesign(text, file)
  last.delete(text)
  last.set(text, loaded)
  for (const [old] of last) if (last.size > KEPT) last.delete(old)
  return loaded
}
