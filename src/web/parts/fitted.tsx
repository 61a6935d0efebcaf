/** A text in a box of so many lines: what has no room ends in “…” after a whole word, and is there for screen readers. */
import { useLayoutEffect, useRef } from 'preact/hooks'

/** Nothing ends in one of these. */
const SMALL = /^(a|an|and|at|by|for|from|in|into|of|on|or|over|the|to|under|with|without)$/i

/** @param within selector of the box around it, which hides what runs over. */
export function Fitted({ text, within }: { text: string; within: string }) {
  const own = useRef<HTMLSpanElement>(null)
  const whole = useRef<HTMLSpanElement>(null)
  // After every drawing: what stands before it in the box may have changed.
  useLayoutEffect(() => {
    const element = own.current!
    const box = element.closest(within)!
    const shorten = () => {
      const words = text.split(' ')
      element.textContent = text
      whole.current!.textContent = ''
      while (words.length > 1 && box.scrollHeight > box.clientHeight + 1) {
        words.pop()
        while (words.length > 1 && SMALL.test(words.at(-1)!)) words.pop()
        element.textContent = `${words.join(' ')}…`
      }
      const isCut = element.textContent !== text
      element.ariaHidden = isCut ? 'true' : null
      if (isCut) whole.current!.textContent = text
    }
    shorten()
    addEventListener('resize', shorten)
    return () => removeEventListener('resize', shorten)
  })
  return (
    <>
      <span ref={own} />
      <span ref={whole} class="unseen" />
    </>
  )
}
