/** Long work that someone asks for with a button: how far it is, what it found and of which text, and what went wrong. */
import { signal } from '@preact/signals'
import type { Progress } from '../worker/channel.js'
import { lastValidText } from './consequences.js'

/** It lives on when the view changes. */
export function askedStudy<Answer>(
  work: (text: string, options: { signal: AbortSignal; progress: Progress }) => Promise<Answer | undefined>,
) {
  const going = signal<{ share: number; says: string; stop(): void } | undefined>(undefined)
  const found = signal<{ answer: Answer; of: string } | undefined>(undefined)
  const fault = signal('')
  const run = async () => {
    const stop = new AbortController()
    const text = lastValidText.value
    fault.value = ''
    going.value = { share: 0, says: 'loading …', stop: () => stop.abort() }
    try {
      const answer = await work(text, {
        signal: stop.signal,
        progress: (share, says) => {
          if (going.value) going.value = { ...going.value, share, says }
        },
      })
      if (answer !== undefined) found.value = { answer, of: text }
    } catch (error) {
      fault.value = error instanceof Error ? error.message : String(error)
    } finally {
      going.value = undefined
    }
  }
  return { going, found, fault, run }
}

export type AskedStudy = Omit<ReturnType<typeof askedStudy>, 'found'> & {
  found: { readonly value: { of: string } | undefined }
}
