/** What of the design is open beside the stage, and which line of its text is wanted. */
import { signal } from '@preact/signals'

export const side = signal<'form' | 'text'>('form')
const PANE = 'halfbit-design-pane'
/** Whether the design is open beside the stage; kept in this browser. */
export const isPaneOpen = signal(
  globalThis.localStorage?.getItem(PANE) !== 'closed' &&
    (globalThis.innerWidth === undefined || globalThis.innerWidth >= 1180 || globalThis.innerWidth < 900),
)

export function setPaneOpen(on: boolean): void {
  isPaneOpen.value = on
  localStorage.setItem(PANE, on ? 'open' : 'closed')
}

/** Which half a narrow screen shows. */
export const half = signal<'design' | 'consequences'>('consequences')
/** A line of the text to go to. */
export const wantedLine = signal<number | undefined>(undefined)

export function showLine(line: number): void {
  side.value = 'text'
  half.value = 'design'
  isPaneOpen.value = true
  wantedLine.value = line
}

/** Whether the design was asked for and is to have the focus. */
export const isPaneWanted = signal(false)

/** Opens the design beside the stage, or in its place on a narrow screen. */
export function openPane(): void {
  side.value = 'form'
  half.value = 'design'
  isPaneOpen.value = true
  isPaneWanted.value = true
}
