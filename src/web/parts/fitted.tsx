/** A text in a box of so many lines: what has no room ends in “…” after a whole word, and is there for screen readers. */
import { useLayoutEffect, useRef } from 'preact/hooks'

/** Nothing ends in one of these. */
const SMALL = /^(a|an|and|at|by|for|from|in|into|of|on|or|over|the|to|under|with|without)$/i

/** Where a text may end before its own end: after its first word, and after each other one that is not small. */
function endsOf(text: string): number[] {
  const ends: number[] = []
  let at = 0
  const words = text.split(' ')
  for (const [i, word] of words.slice(0, -1).entries()) {
    at += word.length + (i > 0 ? 1 : 0)
    if (i === 0 || !SMALL.test(word)) ends.push(at)
  }
  return ends
}

/** @param within selector of the box around it, which hides what runs over. */
export function Fitted({ text, within }: { text: string; within: string }) {
  const own = useRef<HTMLSpanElement>(null)
  const whole = useRef<HTMLSpanElement>(null)
  const last = useRef({ text: '', says: '', width: 0 })
  // After every drawing: what stands before it in the box may have changed.
  useLayoutEffect(() => {
    const element = own.current!
    const box = element.closest(within)!
    const shorten = () => {
      const width = box.clientWidth
      // Measuring lays the page out anew each time.
      if (last.current.text === text && last.current.says === box.textContent && last.current.width === width)
        return
      whole.current!.textContent = ''
      const ends = endsOf(text)
      const show = (end: number) => {
        element.textContent = end === ends.length ? text : `${text.slice(0, ends[end])}…`
        return box.scrollHeight <= box.clientHeight + 1
      }
      // As a rule all of it has room.
      if (!show(ends.length) && ends.length > 0) {
        let fits = 0
        for (let least = 1, most = ends.length - 1; least <= most; ) {
          const end = (least + most) >> 1
          if (show(end)) {
            fits = end
            least = end + 1
          } else most = end - 1
        }
        show(fits)
      }
      const isCut = element.textContent !== text
      element.ariaHidden = isCut ? 'true' : null
      if (isCut) whole.current!.textContent = text
      last.current = { text, says: box.textContent ?? '', width }
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
