/** Edits of the railroad, and what its map shows: they outlive the view. */
import { signal } from '@preact/signals'
import type { TrackAction } from '../../track/index.js'
import { desk } from './consequences.js'
import { change, news, text } from './design.js'

/** The fault that the maps are shown with. */
export const mapFault = signal<string | undefined>(undefined)

let last: Promise<unknown> = Promise.resolve()

/** Make an edit, after those before it. @returns why not, when the reader will not have it. */
export function editRailroad(action: TrackAction): Promise<string | undefined> {
  const mine = last.then(async () => {
    const before = text.value
    try {
      const answer = await desk().call('edit', { text: before, action })
      if ('refused' in answer) return answer.refused
      if (text.value !== before) return 'The text was changed meanwhile: do it again.'
      change(answer.text, answer.says)
      news.value = `${answer.says}.`
      return undefined
    } catch (error) {
      return error instanceof Error ? error.message : String(error)
    }
  })
  last = mine
  return mine
}
