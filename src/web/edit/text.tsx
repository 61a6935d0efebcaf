/** The design as text: line numbers with marks at problems, problems listed, and what may stand at the caret. */
import { flushSync } from 'preact/compat'
import { useEffect, useMemo, useRef, useState } from 'preact/hooks'
import type { Problem } from '../../design/index.js'
import { answer } from '../state/consequences.js'
import { change, fileName, text } from '../state/design.js'
import { keysAt } from './keys-at.js'
import { Offers, pinsOfChip } from './offers.js'
import { wantedLine } from './pane-state.js'
import { valuesAt } from './values-at.js'

/** Typing rests after so long, ms. */
const RESTS_MS = 150

export function TextEditor() {
  const area = useRef<HTMLTextAreaElement>(null)
  const gutter = useRef<HTMLDivElement>(null)
  const offers = useRef<HTMLDivElement>(null)
  const [caret, setCaret] = useState(0)
  const { problems } = answer.value
  const lines = useMemo(() => text.value.split('\n').length, [text.value])
  // Most edits change neither.
  const numbers = useMemo(() => numbersOf(lines, problems), [lines, problems.length === 0 ? 0 : problems])

  const goTo = (line: number, column = 1) => {
    const element = area.current
    if (!element) return
    const rows = text.value.split('\n')
    const start = rows.slice(0, line - 1).reduce((sum, row) => sum + row.length + 1, 0)
    const end = start + (rows[line - 1]?.length ?? 0)
    element.focus()
    element.setSelectionRange(Math.min(start + column - 1, end), end)
    const height = element.scrollHeight / Math.max(1, rows.length)
    element.scrollTop = Math.max(0, (line - 6) * height)
    setCaret(start)
  }

  useEffect(() => {
    if (wantedLine.value === undefined) return
    goTo(wantedLine.value)
    wantedLine.value = undefined
  }, [wantedLine.value])

  const look = () => setCaret(area.current?.selectionStart ?? 0)
  const now = text.value
  // Reading a large design takes longer than a letter may: what can stand at the caret follows when typing rests.
  const [read, setRead] = useState(now)
  useEffect(() => {
    const timer = setTimeout(() => setRead(now), RESTS_MS)
    return () => clearTimeout(timer)
  }, [now])
  const place = useRef({ text: now, caret })
  if (read === now) place.current = { text: now, caret }
  const of = place.current
  const pins = pinsOfChip()
  const here = useMemo(() => keysAt(of.text, of.caret), [of.text, of.caret])
  const values = useMemo(() => valuesAt(of.text, of.caret, pins), [of.text, of.caret, pins])
  return (
    <div class="texts">
      <div class="editor">
        <div class="gutter" ref={gutter} aria-hidden="true">
          {numbers}
        </div>
        <textarea
          ref={area}
          class="mono"
          aria-label={`Text of ${fileName.value}`}
          aria-invalid={problems.length > 0}
          aria-describedby="text-problems"
          spellcheck={false}
          autocapitalize="off"
          wrap="off"
          value={text.value}
          onInput={(event) => {
            change((event.currentTarget as HTMLTextAreaElement).value, 'typing in the text')
            look()
          }}
          aria-keyshortcuts="Control+Space"
          onKeyUp={look}
          onKeyDown={(event) => {
            if (event.key !== ' ' || !event.ctrlKey) return
            event.preventDefault()
            flushSync(() => setRead(text.value))
            offers.current?.querySelector<HTMLButtonElement>('.offers button')?.focus()
          }}
          onClick={look}
          onScroll={(event) => {
            if (gutter.current) gutter.current.scrollTop = (event.currentTarget as HTMLElement).scrollTop
          }}
        />
      </div>
      <div id="text-problems">
        {problems.length > 0 && (
          <ul class="problems">
            {problems.slice(0, 20).map((p) => (
              <li>
                <button type="button" class="link" onClick={() => goTo(p.line, p.column)}>
                  Line {p.line}
                </button>{' '}
                {p.message}
              </li>
            ))}
          </ul>
        )}
      </div>
      <Offers of={of.text} here={here} values={values} area={area} box={offers} />
    </div>
  )
}

/** One for each line, with a mark where there is a problem. */
function numbersOf(lines: number, problems: readonly Problem[]) {
  const marks = new Map<number, string>()
  for (const p of problems)
    marks.set(p.line, marks.has(p.line) ? `${marks.get(p.line)}; ${p.message}` : p.message)
  return Array.from({ length: lines }, (_, i) => (
    <div class={marks.has(i + 1) ? 'marked' : undefined} title={marks.get(i + 1)}>
      {marks.has(i + 1) ? '✗' : ''}
      {i + 1}
    </div>
  ))
}
