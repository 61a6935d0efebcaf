/** Keys without Ctrl: a number opens a stage, D the design. They can be switched off, as dictation would trigger them. */
import { signal } from '@preact/signals'
import { half, isPaneOpen, setPaneOpen } from '../edit/pane-state.js'
import { STAGES } from '../stages.js'
import { go } from '../state/route.js'

const KEPT = 'halfbit-letter-keys'
const isOn = signal(globalThis.localStorage?.getItem(KEPT) !== 'off')

/** @returns whether the key was one of these. */
export function onKey(event: KeyboardEvent): boolean {
  if (!isOn.value || event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return false
  const { target } = event
  if (target instanceof Element && target.closest('input, textarea, select, canvas, svg, [contenteditable]'))
    return false
  const stage = /^[1-9]$/.test(event.key) ? STAGES[Number(event.key) - 1] : undefined
  if (stage) go(stage.id)
  else if (event.key.toLowerCase() === 'd') {
    if (innerWidth < 900) half.value = half.value === 'design' ? 'consequences' : 'design'
    else setPaneOpen(!isPaneOpen.value)
  } else return false
  event.preventDefault()
  return true
}

export function Keyboard() {
  return (
    <details class="keyboard">
      <summary>Keyboard</summary>
      <dl class="facts">
        {STAGES.map((stage, i) => (
          <>
            <dt>
              <kbd>{i + 1}</kbd>
            </dt>
            <dd>{stage.title}</dd>
          </>
        ))}
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
