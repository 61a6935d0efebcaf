/** The two sides of a comparison: what can be chosen, and how each becomes a source for the worker. */
import { computed, effect, signal } from '@preact/signals'
import { bench } from '../worker/callers.js'
import type { CompareSource } from '../worker/study-calls.js'
import { answer, lastValid, lastValidText, runEvidence } from './consequences.js'
import { fileName, openedText, past, savedText, theHost } from './design.js'
import { keepDesign, keepSide, keptSides } from './kept-sides.js'

export type SideName = 'a' | 'b'

export interface SideChoice {
  id: string
  label: string
  group: 'this design' | 'earlier states' | 'runs, captures and other designs'
}

export const chosenSides = signal<Record<SideName, string>>({ a: 'opened', b: 'now' })

/** Earlier states shown, newest first. */
const STATES = 20

export const choices = computed<SideChoice[]>(() => {
  const steps = past.value.slice(-STATES)
  const base = past.value.length - steps.length
  return [
    {
      id: 'now',
      label: answer.value.problems.length > 0 ? 'last valid version, OUT OF DATE' : 'now',
      group: 'this design',
    },
    { id: 'saved', label: 'as last saved', group: 'this design' },
    { id: 'opened', label: 'as opened', group: 'this design' },
    ...steps
      .map(
        ({ what }, i): SideChoice => ({
          id: `step ${base + i}`,
          label: `before ${base + i + 1}: ${what}`,
          group: 'earlier states',
        }),
      )
      .reverse(),
    ...keptSides.value.map(
      ({ id, source }): SideChoice => ({
        id,
        label: source.label,
        group: 'runs, captures and other designs',
      }),
    ),
  ]
})

export function sourceOf(id: string): CompareSource | undefined {
  const kept = keptSides.value.find((k) => k.id === id)
  if (kept) return kept.source
  const step = id.startsWith('step ') ? past.value[Number(id.slice(5))] : undefined
  const text =
    id === 'now' ? lastValidText.value : id === 'saved' ? savedText.value : id === 'opened' ? openedText.value : step?.text // biome-ignore format: one of four
  if (text === undefined || text === '') return undefined
  const label = choices.value.find((c) => c.id === id)?.label ?? id
  const design = lastValid.value?.facts?.name ?? fileName.value
  return {
    label: `${design} ${label}`,
    text,
    file: fileName.value,
    // What a run showed counts only for a design that it was made for; the worker sees to that.
    runs: [...runEvidence.value.values()],
    alone: false,
    readings: [],
  }
}

// A state that is no longer kept cannot stay chosen.
effect(() => {
  const ids = new Set(choices.value.map((c) => c.id))
  const { a, b } = chosenSides.peek()
  if (!ids.has(a) || !ids.has(b))
    chosenSides.value = { a: ids.has(a) ? a : 'opened', b: ids.has(b) ? b : 'now' }
})

export interface Reading {
  side: SideName
  what: string
  share: number
  says: string
  stop(): void
}
export const reading = signal<Reading | undefined>(undefined)
export const readFault = signal('')

/** Which is which, by its name: a design, firmware to run, or a capture to read. */
export function kindOfFile(name: string): 'design' | 'firmware' | 'capture' {
  if (/\.ya?ml$/i.test(name)) return 'design'
  return /\.(hex|ihex|elf|axf|out)$/i.test(name) ? 'firmware' : 'capture'
}

let queue: Promise<void> = Promise.resolve()
const newest: Partial<Record<SideName, File>> = {}

/**
 * Take a dropped file as a side: a design at once, firmware by running it, a capture by reading it. One is read at a
 * time. A file for the other side waits for its turn; a newer file for the same side takes the place of the one before.
 */
export function takeFile(side: SideName, file: File, forUs: number): Promise<void> {
  if (reading.value?.side === side) reading.value.stop()
  newest[side] = file
  queue = queue.then(() => (newest[side] === file ? readFile(side, file, forUs) : undefined))
  return queue
}

async function readFile(side: SideName, file: File, forUs: number): Promise<void> {
  const facts = lastValid.value?.facts
  if (!facts) {
    readFault.value = `${file.name} was not read: the design has problems, and has to be valid first`
    return
  }
  readFault.value = ''
  const stop = new AbortController()
  const kind = kindOfFile(file.name)
  const text = lastValidText.value
  const progress = (share: number, says: string) => {
    if (reading.value) reading.value = { ...reading.value, share, says }
  }
  const { name } = file
  reading.value = {
    side,
    what: `${kind === 'firmware' ? 'Running' : 'Reading'} ${name}`,
    share: 0,
    says: 'loading …',
    stop: () => stop.abort(),
  }
  try {
    let id: string
    if (kind === 'design') id = keepDesign(name, await file.text())
    else if (kind === 'firmware') {
      const script = facts.firmware?.stimulus
      const gives = await bench().call(
        'simulate',
        {
          firmware: new Uint8Array(await file.arrayBuffer()),
          name,
          stimulus:
            script === undefined
              ? undefined
              : { text: new TextDecoder().decode(await theHost().read(script)), name: script },
          text,
          forUs,
        },
        { signal: stop.signal, progress },
      )
      id = keepSide(name, text, gives)
    } else {
      const gives = await bench().call('capture', { file, name, text }, { signal: stop.signal, progress })
      id = keepSide(name, text, { reads: [gives.read], evidence: gives.evidence })
    }
    if (newest[side] === file) chosenSides.value = { ...chosenSides.value, [side]: id }
  } catch (error) {
    // What was stopped for a newer file is nobody's fault.
    if (newest[side] !== file) return
    const says = error instanceof Error ? error.message : String(error)
    readFault.value =
      kind === 'capture'
        ? `${says}. A capture that needs settings can be opened at the waveform stage first; then it can be chosen here.`
        : says
  } finally {
    reading.value = undefined
  }
}
