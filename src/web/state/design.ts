/** The design's text: the one truth on screen. Every edit, whoever makes it, is a new text with a way back. */
import { computed, signal } from '@preact/signals'
import type { Path } from '../../design/index.js'
import type { DesignSource, FileHost } from '../file-host.js'
import { desk } from '../worker/callers.js'

/** `conflict`: both sides changed; nothing is written until someone chooses. */
export type SaveState = 'saved' | 'changed' | 'saving' | 'conflict' | 'failed'

export const text = signal('')
export const fileName = signal('halfbit.yaml')
export const hostKind = signal<FileHost['kind'] | undefined>(undefined)
export const saveState = signal<SaveState>('saved')
export const saveFault = signal('')
/** The other side's text while both have changed. */
export const theirs = signal<DesignSource | undefined>(undefined)
/** The text as it was opened, and as it was last saved or read. */
export const openedText = signal('')
export const savedText = signal('')
/** One line for screen readers and the header: what happened last. */
export const news = signal('')

/** A text and what was done to it next. */
export interface Step {
  text: string
  what: string
}
export const past = signal<readonly Step[]>([])
const future = signal<Step[]>([])
export const undoWhat = computed(() => past.value.at(-1)?.what)
export const redoWhat = computed(() => future.value.at(-1)?.what)

/** Whether there is nothing yet but comments. */
export const isBlank = computed(() => text.value.split('\n').every((line) => /^\s*(#.*)?$/.test(line)))

const STEPS = 500
const SAME_EDIT_MS = 1500
const SAVE_AFTER_MS = 500

let host: FileHost | undefined
let revision = ''
let lastWhat = ''
let lastAt = 0
let timer: ReturnType<typeof setTimeout> | undefined

export function theHost(): FileHost {
  if (!host) throw new Error('no host yet')
  return host
}

/** Take the design from its host and follow it. */
export async function begin(from: FileHost): Promise<void> {
  host = from
  const source = await from.open()
  revision = source.revision
  fileName.value = source.name
  hostKind.value = from.kind
  text.value = source.text
  openedText.value = source.text
  savedText.value = source.text
  from.watch((now) => void changedElsewhere(now))
  // What nobody has kept yet is not thrown away with the page.
  globalThis.addEventListener?.('beforeunload', (event) => {
    if (saveState.value === 'changed') void save()
    if (saveState.value !== 'saved') event.preventDefault()
  })
}

/** Replace the text. Edits of the same thing that follow each other are one step back. */
export function change(next: string, what: string): void {
  if (next === text.value) return
  const now = performance.now()
  if (what !== lastWhat || now - lastAt > SAME_EDIT_MS) {
    past.value = [...past.value.slice(-STEPS), { text: text.value, what }]
  }
  lastWhat = what
  lastAt = now
  future.value = []
  text.value = next
  touched()
}

/**
 * Add a part that is complete at once: what the reader of design files would not have is not written.
 * @param given the part, where it was entered and is not made for the place.
 * @returns a sentence when it cannot be added.
 */
export async function addPart(path: Path, given?: unknown): Promise<string | undefined> {
  const before = text.value
  try {
    const added = await desk().call('add', { text: before, path, given })
    if ('refused' in added) return added.refused
    if (text.value !== before) return 'the text has changed in the meantime: try again'
    change(added.text, `adding of ${path.join('.')}`)
    return undefined
  } catch (error) {
    return error instanceof Error ? error.message : String(error)
  }
}

export function undo(): void {
  const step = past.value.at(-1)
  if (!step) return
  past.value = past.value.slice(0, -1)
  future.value = [...future.value, { text: text.value, what: step.what }]
  back(step, 'Undone')
}

export function redo(): void {
  const step = future.value.at(-1)
  if (!step) return
  future.value = future.value.slice(0, -1)
  past.value = [...past.value, { text: text.value, what: step.what }]
  back(step, 'Redone')
}

function back(step: Step, says: string): void {
  text.value = step.text
  lastWhat = ''
  news.value = `${says}: ${step.what}`
  touched()
}

function touched(): void {
  if (saveState.value === 'conflict') return
  saveState.value = 'changed'
  clearTimeout(timer)
  timer = setTimeout(() => void save(), SAVE_AFTER_MS)
}

/** Write what is on screen, unless someone else has written since. */
export async function save(): Promise<void> {
  clearTimeout(timer)
  if (saveState.value !== 'changed' && saveState.value !== 'failed') return
  const wanted = text.value
  saveState.value = 'saving'
  try {
    const result = await theHost().save(wanted, revision)
    if (result.saved) {
      revision = result.revision
      savedText.value = wanted
      saveState.value = 'saved'
      if (text.value !== wanted) touched()
    } else conflict(result.theirs)
  } catch (error) {
    saveFault.value = error instanceof Error ? error.message : String(error)
    saveState.value = 'failed'
  }
}

async function changedElsewhere(now: string): Promise<void> {
  if (now === revision) return
  // Not lost: what was written meanwhile shows once it is clear who was first.
  if (saveState.value === 'saving') {
    setTimeout(() => void changedElsewhere(now), SAVE_AFTER_MS)
    return
  }
  let source: DesignSource
  try {
    source = await theHost().open()
  } catch (error) {
    news.value = `The file was changed by another program and cannot be shown: ${error instanceof Error ? error.message : String(error)}`
    return
  }
  // Meanwhile saved from here, or being saved: then that tells.
  if (source.revision === revision || (saveState.value as SaveState) === 'saving') return
  if (source.text === text.value) {
    revision = source.revision
    savedText.value = source.text
    saveState.value = 'saved'
  } else if (saveState.value === 'saved') {
    take(source, 'change by another program')
    news.value = 'The file was changed by another program; this is its new text. Undo restores the old one.'
  } else conflict(source)
}

function conflict(source: DesignSource): void {
  clearTimeout(timer)
  if (source.text === text.value) {
    revision = source.revision
    savedText.value = source.text
    saveState.value = 'saved'
    return
  }
  theirs.value = source
  saveState.value = 'conflict'
}

function take(source: DesignSource, what: string): void {
  past.value = [...past.value.slice(-STEPS), { text: text.value, what }]
  future.value = []
  lastWhat = ''
  text.value = source.text
  savedText.value = source.text
  revision = source.revision
  saveState.value = 'saved'
}

/** End a conflict. Either way the other text stays one step back. */
export function choose(side: 'mine' | 'theirs'): void {
  const other = theirs.value
  if (!other) return
  theirs.value = undefined
  if (side === 'theirs') take(other, 'use of the version on disk')
  else {
    past.value = [...past.value.slice(-STEPS), { text: other.text, what: 'keeping of this version' }]
    future.value = []
    lastWhat = ''
    revision = other.revision
    savedText.value = other.text
    saveState.value = 'changed'
    void save()
  }
  news.value = 'Undo restores the other version.'
}
