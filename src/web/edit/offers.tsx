/** Completions at the cursor, as buttons under the text: reached with Ctrl+Space, walked with the arrows, left with Escape. */
import type { RefObject } from 'preact'
import { lastValid } from '../state/consequences.js'
import { change, text } from '../state/design.js'
import type { Here } from './keys-at.js'
import type { ValuesHere } from './values-at.js'

interface OffersProps {
  /** The text that they were made for: in another they would go to the wrong place. */
  of: string
  here: Here | undefined
  values: ValuesHere | undefined
  area: RefObject<HTMLTextAreaElement | null>
  box: RefObject<HTMLDivElement | null>
}

/** Pins of the chip, for keys that name one. */
export const pinsOfChip = (): readonly string[] => lastValid.value?.facts?.pins ?? []

export function Offers({ of, here, values, area, box }: OffersProps) {
  const toText = (at?: number) =>
    requestAnimationFrame(() => {
      area.current?.focus()
      if (at !== undefined) area.current?.setSelectionRange(at, at)
    })
  const keys = (event: KeyboardEvent) => {
    if (event.key === 'Escape') {
      event.preventDefault()
      toText()
      return
    }
    const step = { ArrowRight: 1, ArrowDown: 1, ArrowLeft: -1, ArrowUp: -1 }[event.key]
    if (step === undefined) return
    event.preventDefault()
    const all = [...(box.current?.querySelectorAll<HTMLButtonElement>('.offers button') ?? [])]
    const now = all.indexOf(document.activeElement as HTMLButtonElement)
    all[(now + step + all.length) % all.length]?.focus()
  }
  const offers = values?.offers ?? []
  const missing = here?.missing ?? []
  const count = offers.length + missing.length
  if (!here && offers.length === 0) return null
  return (
    <div class="at-caret" ref={box} onKeyDown={keys} role="group" aria-label="Completions at the cursor">
      {here && (
        <p>
          <code>{here.path.join('.') || 'top of the file'}</code>
          {here.title && <span>: {here.title}</span>}
          {here.help && <span class="quiet"> {here.help}</span>}
        </p>
      )}
      {count > 0 && (
        <p class="quiet">
          <kbd>Ctrl</kbd> <kbd>Space</kbd> moves to the completions, the arrow keys move along them,{' '}
          <kbd>Esc</kbd> goes back to the text.
        </p>
      )}
      {values && offers.length > 0 && (
        <p class="offers">
          <span class="quiet">Values of {values.key}:</span>{' '}
          {offers.map(({ value, says }) => (
            <button
              type="button"
              onClick={() => {
                if (text.value !== of) return
                const start = text.value.slice(0, values.from)
                change(start + value + text.value.slice(values.to), `value of ${values.key}`)
                toText(values.from + value.length)
              }}
            >
              {value}
              {says && <small class="quiet"> {says}</small>}
            </button>
          ))}
          {values.more > 0 && <span class="quiet">and {values.more} more: type to narrow them</span>}
        </p>
      )}
      {missing.length > 0 && (
        <p class="offers">
          <span class="quiet">Further keys allowed here:</span>{' '}
          {missing.map((key) => (
            <button
              type="button"
              title={key.help}
              onClick={() => {
                if (text.value !== of) return
                change(key.insert(text.value), `adding of ${key.name}`)
                toText()
              }}
            >
              {key.name}
            </button>
          ))}
        </p>
      )}
    </div>
  )
}
