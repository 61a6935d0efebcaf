/**
 * Keys without Ctrl: a number opens one of the first nine stages, G any by its name, D the design. They can be switched
 * off, as dictation would trigger them.
 */
import { signal } from '@preact/signals'
import { useLayoutEffect, useRef } from 'preact/hooks'
import { half, isPaneOpen, setPaneOpen } from '../edit/pane-state.js'
import { STAGES } from '../stages.js'
import { go } from '../state/route.js'

const KEPT = 'halfbit-letter-keys'
const isOn = signal(globalThis.localStorage?.getItem(KEPT) !== 'off')

/** What is typed to find a stage by name; undefined while nobody looks for one. */
const wantedName = signal<string | undefined>(undefined)

/** @returns whether the key was one of these. */
export function onKey(event: KeyboardEvent): boolean {
  if (!isOn.value || event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return false
  const { target } = event
  if (target instanceof Element && target.closest('input, textarea, select, canvas, svg, [contenteditable]'))
    return false
  const stage = /^[1-9]$/.test(event.key) ? STAGES[Number(event.key) - 1] : undefined
  if (stage) go(stage.id)
  else if (event.key.toLowerCase() === 'g') wantedName.value = ''
  else if (event.key.toLowerCase() === 'd') {
    if (innerWidth < 900) half.value = half.value === 'design' ? 'consequences' : 'design'
    else setPaneOpen(!isPaneOpen.value)
  } else return false
  event.preventDefault()
  return true
}

/** Stages whose name begins with what is typed, then those that hold it. */
function stagesNamed(name: string): typeof STAGES {
  const wanted = name.trim().toLowerCase()
  const rank = (title: string) => {
    const at = title.toLowerCase().indexOf(wanted)
    return at === 0 ? 0 : at > 0 ? 1 : 2
  }
  return STAGES.filter(({ title }) => rank(title) < 2).sort((a, b) => rank(a.title) - rank(b.title))
}

/** A small dialog that finds a stage by its name. */
export function GoTo() {
  const dialog = useRef<HTMLDialogElement>(null)
  const name = wantedName.value
  // Before the next frame: the name may be typed already.
  useLayoutEffect(() => {
    if (name !== undefined && !dialog.current?.open) dialog.current?.showModal()
  }, [name !== undefined])
  if (name === undefined) return null
  const found = stagesNamed(name)
  const close = () => {
    wantedName.value = undefined
  }
  return (
    <dialog class="go-to" ref={dialog} aria-label="Go to a stage" onClose={close}>
      <form
        method="dialog"
        onSubmit={() => {
          if (found[0]) go(found[0].id)
          close()
        }}
      >
        <label for="go-to">Stage</label>
        <input
          id="go-to"
          autocomplete="off"
          value={name}
          onInput={(event) => {
            wantedName.value = event.currentTarget.value
          }}
        />
      </form>
      <ul class="plain-list">
        {found.map((stage) => (
          <li>
            <a href={`#/${stage.id}`} onClick={close}>
              {stage.title}
            </a>
          </li>
        ))}
        {found.length === 0 && <li class="quiet">no stage of that name</li>}
      </ul>
    </dialog>
  )
}

export function Keyboard() {
  return (
    <details class="keyboard">
      <summary>Keyboard</summary>
      <dl class="facts">
        {STAGES.slice(0, 9).map((stage, i) => (
          <>
            <dt>
              <kbd>{i + 1}</kbd>
            </dt>
            <dd>{stage.title}</dd>
          </>
        ))}
        <dt>
          <kbd>G</kbd>
        </dt>
        <dd>any stage, by its name</dd>
        <dt>
          <kbd>D</kbd>
        </dt>
        <dd>opens and folds the design</dd>
        <dt>
          <kbd>Ctrl</kbd> <kbd>Z</kbd>
        </dt>
        <dd>undo; with Shift, redo</dd>
        <dt>
          <kbd>Ctrl</kbd> <kbd>S</kbd>
        </dt>
        <dd>save now</dd>
      </dl>
      <label class="check">
        <input
          type="checkbox"
          checked={isOn.value}
          onChange={(event) => {
            isOn.value = (event.currentTarget as HTMLInputElement).checked
            localStorage.setItem(KEPT, isOn.value ? 'on' : 'off')
          }}
        />
        Keys without Ctrl
      </label>
    </details>
  )
}
