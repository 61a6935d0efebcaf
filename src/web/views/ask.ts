/** Asks the worker whenever the valid text changes, and keeps the last answer until the next is there. */
import { useEffect, useState } from 'preact/hooks'
import { desk, lastValidText } from '../state/consequences.js'
import type { DeskCalls } from '../worker/calls.js'

export interface Asked<T> {
  answer: T | undefined
  fault: string | undefined
}

export function useDesk<K extends keyof DeskCalls & string>(
  call: K,
  takes: (text: string) => DeskCalls[K]['takes'] | undefined,
  depends: readonly unknown[] = [],
  /** What can wait comes after what is in sight. */
  afterMs = 0,
): Asked<DeskCalls[K]['gives']> {
  const [state, setState] = useState<Asked<DeskCalls[K]['gives']>>({ answer: undefined, fault: undefined })
  const text = lastValidText.value
  useEffect(() => {
    const question = text === '' ? undefined : takes(text)
    if (question === undefined) return
    let old = false
    const timer = setTimeout(() => {
      desk()
        .call(call, question)
        .then(
          (answer) => !old && setState({ answer, fault: undefined }),
          (error: Error) => !old && setState((s) => ({ answer: s.answer, fault: error.message })),
        )
    }, afterMs)
    return () => {
      old = true
      clearTimeout(timer)
    }
  }, [text, call, ...depends])
  return state
}
