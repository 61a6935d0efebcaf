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

interface Fit {
  text: string
  element: HTMLElement
  whole: HTMLElement
  box: Element
}

/** What had room, by all that this depends on: digits are all of one width. Measuring lays the page out anew each time. */
const known = new Map<string, string>()
/** What of a text had room last: as a rule it has again. */
const shownLast = new Map<string, string>()
const MOST_KNOWN = 500

/** What else the box says decides how much room there is; the width of the view, how large its letters are. */
const keyOf = ({ text, element, whole, box }: Fit, within: string) => {
  const others = box.textContent!.replace(`${element.textContent}${whole.textContent}`, '\n')
  return `${within}\n${innerWidth}\n${box.clientWidth}\n${text}\n${others.replace(/\d/g, '0')}`
}

function write({ text, element, whole }: Fit, shown: string): void {
  if (element.textContent !== shown) element.textContent = shown
  const isCut = shown !== text
  element.ariaHidden = isCut ? 'true' : null
  const rest = isCut ? text : ''
  if (whole.textContent !== rest) whole.textContent = rest
}

function measured(fit: Fit): string {
  const { text, element, whole, box } = fit
  whole.textContent = ''
  const ends = endsOf(text)
  const says = (end: number) => (end === ends.length ? text : `${text.slice(0, ends[end])}…`)
  const show = (end: number) => {
    element.textContent = says(end)
    return box.scrollHeight <= box.clientHeight + 1
  }
  // As a rule all of it has room.
  if (show(ends.length) || ends.length === 0) return text
  let fits = 0
  for (let least = 1, most = ends.length - 1; least <= most; ) {
    const end = (least + most) >> 1
    if (show(end)) {
      fits = end
      least = end + 1
    } else most = end - 1
  }
  return says(fits)
}

/** All that were drawn together are looked at together, before they are painted: then the page is laid out once. */
let waiting: (() => void)[] = []
function later(look: () => void): void {
  if (waiting.length === 0)
    queueMicrotask(() => {
      const now = waiting
      waiting = []
      for (const one of now) one()
    })
  waiting.push(look)
}

/** @param within selector of the box around it, which hides what runs over. */
export function Fitted({ text, within }: { text: string; within: string }) {
  const own = useRef<HTMLSpanElement>(null)
  const whole = useRef<HTMLSpanElement>(null)
  // After every drawing: what stands before it in the box may have changed.
  useLayoutEffect(() => {
    const element = own.current!
    const fit = { text, element, whole: whole.current!, box: element.closest(within)! }
    const shorten = () => {
      if (!element.isConnected) return
      const key = keyOf(fit, within)
      let shown = known.get(key)
      if (shown === undefined) {
        shown = measured(fit)
        if (known.size >= MOST_KNOWN) known.clear()
        known.set(key, shown)
        shownLast.set(text, shown)
      }
      write(fit, shown)
    }
    write(fit, shownLast.get(text) ?? text)
    later(shorten)
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
