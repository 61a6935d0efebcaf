/** The keyboard's focus stays in its place when the control that has it is replaced or switched off by what it did. */

const CONTROLS =
  'a[href], button, input, select, textarea, summary, [tabindex]:not([tabindex="-1"]):not(svg *), [contenteditable]'

const isOn = (control: Element) => control.isConnected && !control.matches(':disabled')
const isSeen = (control: HTMLElement) => control.checkVisibility()
/** Given the focus, these open the keyboard of a phone. */
const TYPED = 'textarea, input:not([type=checkbox], [type=radio], [type=range], [type=button])'

/** @param root everything in which controls come and go. */
export function keepFocus(root: HTMLElement): void {
  let last: HTMLElement | undefined
  /** The control before it in the page; what takes its place comes after that one. */
  let before: HTMLElement | undefined
  /** The parts that it is in, the innermost first. */
  let parts: readonly HTMLElement[] = []
  /** It was switched off while it had the focus, and the focus was lent to another. */
  let lender: HTMLElement | undefined
  let isLending = false
  /** It was switched off while it had the focus, perhaps for less than a frame. */
  let isLost = false

  const all = () => [...root.querySelectorAll<HTMLElement>(CONTROLS)]

  root.addEventListener('focusin', ({ target }) => {
    last = target as HTMLElement
    isLost = false
    if (!isLending) lender = undefined
    parts = [...ancestors(last, root)]
    const list = all()
    const at = list.indexOf(last)
    before = at > 0 ? list[at - 1] : undefined
  })
  root.addEventListener('focusout', ({ relatedTarget }) => {
    const left = last
    // Somebody clicked beside every control, or went to another window: that is meant.
    if (relatedTarget === null && left && isOn(left))
      setTimeout(() => left === last && isOn(left) && forget())
  })
  function forget() {
    if (!isLost && document.activeElement === document.body) last = undefined
  }

  let isAsked = false
  const look = () => {
    isAsked = false
    if (!last) return
    const now = document.activeElement
    // A browser may leave the focus on what has been switched off, where no key does anything.
    const isAway = now === document.body ? !isOn(last) || isLost : now === last && !isOn(last)
    if (!isAway) return
    if (last.isConnected) lender = last
    const next = lender && isOn(lender) ? lender : nearest()
    if (next === lender) lender = undefined
    isLending = true
    next?.focus({ preventScroll: true })
    isLending = false
  }
  function nearest(): HTMLElement | undefined {
    const part = parts.find((p) => p.isConnected)
    if (!part) return undefined
    const list = all().filter((c) => isOn(c) && isSeen(c) && !c.matches(TYPED))
    // Whoever began something may want to stop it.
    const stops = lender && list.find((c) => c.matches('[data-stops]'))
    if (stops) return stops
    const after = list.filter(
      (c) => !before || (before.compareDocumentPosition(c) & Node.DOCUMENT_POSITION_FOLLOWING) !== 0,
    )
    return after.find((c) => part.contains(c)) ?? list.filter((c) => part.contains(c)).at(-1) ?? after[0]
  }
  new MutationObserver((changes) => {
    if (last?.matches(':disabled') && changes.some((c) => c.target === last)) isLost = true
    if (isAsked) return
    isAsked = true
    // What gives the focus a place of its own comes first.
    requestAnimationFrame(look)
  }).observe(root, { childList: true, subtree: true, attributes: true, attributeFilter: ['disabled'] })
}

function* ancestors(of: HTMLElement, root: HTMLElement): Generator<HTMLElement> {
  for (let part = of.parentElement; part && part !== root; part = part.parentElement) yield part
}
