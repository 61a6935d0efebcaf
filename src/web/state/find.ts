/** What was noticed and read on the bench: it outlives the view, and a reload of the page. */
import { effect, signal } from '@preact/signals'
import type { FindReport } from '../../find/index.js'
import { finder } from '../worker/callers.js'
import type { FindAnswer, FindPlaces, NotesChoice } from '../worker/find-calls.js'
import { lastValidText } from './consequences.js'
import { fileName } from './design.js'
import { readApart } from './runs.js'

interface Bench {
  /** Each as it is written on the command line. */
  readings: readonly string[]
  symptoms: readonly string[]
  /** Places with their quantity that cannot be read. */
  skipped: readonly string[]
  /** Set where the bench notes of the design are readings too. */
  notes?: NotesChoice | undefined
}

const NOTHING: Bench = { readings: [], symptoms: [], skipped: [] }

export const bench = signal<Bench>(NOTHING)
export const places = signal<FindPlaces | undefined>(undefined)
export const diagnosis = signal<FindReport | undefined>(undefined)
/** Readings of {@link bench} that the design has a place for, by their place in the list: those that are weighed. */
export const counted = signal<readonly number[]>([])
/** The bench notes that are weighed, as the report has them, and why others are not. */
export const noted = signal<{ readings: FindReport['readings']; unused: FindAnswer['unused'] }>({
  readings: [],
  unused: [],
})
/** Why there is none. */
export const findFault = signal('')
export const isFinding = signal(false)
/** The place that the form is about. */
export const chosenPlace = signal('')

const keyOf = () => `halfbit-find ${fileName.peek()}`

export function setBench(change: Partial<Bench>): void {
  bench.value = { ...bench.value, ...change }
  try {
    sessionStorage.setItem(keyOf(), JSON.stringify(bench.value))
  } catch {
    // A browser that keeps nothing loses them with the page.
  }
}

export function startOver(): void {
  setBench({ ...NOTHING, notes: undefined })
}

function kept(): Bench {
  try {
    const found = JSON.parse(sessionStorage.getItem(keyOf()) ?? 'null') as Partial<Bench> | null
    const list = (value: unknown) =>
      Array.isArray(value) ? value.filter((v): v is string => typeof v === 'string') : []
    return {
      readings: list(found?.readings),
      symptoms: list(found?.symptoms),
      skipped: list(found?.skipped),
      ...(found?.notes ? { notes: { since: sinceOf(found.notes) } } : {}),
    }
  } catch {
    return NOTHING
  }
}

function sinceOf({ since }: NotesChoice): string | undefined {
  return typeof since === 'string' && /^\d{4}-\d{2}-\d{2}$/.test(since) ? since : undefined
}

let started = false

/** Begin to follow the design and what is entered; later calls do nothing. */
export function followBench(): void {
  if (started) return
  started = true
  bench.value = kept()
  let latest = 0
  effect(() => {
    const text = lastValidText.value
    const given = bench.value
    if (text === '') return
    const own = ++latest
    isFinding.value = true
    void answer(text, given, () => own === latest)
  })
}

async function answer(text: string, given: Bench, isLatest: () => boolean): Promise<void> {
  try {
    const there = await finder().call('places', { text })
    if (!isLatest()) return
    places.value = there
    const ask = finder()
    const allowed = async (list: readonly string[], as: 'reading' | 'symptom') => {
      const why = await Promise.all(list.map((one) => ask.call('check', { text, [as]: one })))
      return [...list.keys()].filter((i) => why[i] === undefined)
    }
    // After an edit the design may have no such place any more.
    const readings = await allowed(given.readings, 'reading')
    const symptoms = await allowed(given.symptoms, 'symptom')
    const {
      report,
      noted: notes,
      unused,
    } = await ask.call('find', {
      text,
      readings: readings.map((i) => given.readings[i]!),
      symptoms: symptoms.map((i) => given.symptoms[i]!),
      skipped: given.skipped,
      notes: given.notes,
    })
    if (!isLatest()) return
    diagnosis.value = report
    noted.value = { readings: report.readings.slice(report.readings.length - notes), unused }
    counted.value = readings
    findFault.value = ''
  } catch (error) {
    if (isLatest()) findFault.value = error instanceof Error ? error.message : String(error)
  } finally {
    if (isLatest()) isFinding.value = false
  }
}

/** @returns why it cannot be, or nothing */
export async function addReading(reading: string): Promise<string | undefined> {
  const why = await finder().call('check', { text: lastValidText.value, reading })
  if (why === undefined) setBench({ readings: [...bench.value.readings, reading] })
  return why
}

/** Reads a capture that was taken with the fault there: what it shows are readings, and never evidence of the proof. */
export async function addCapture(file: File, output: string | undefined): Promise<string | undefined> {
  try {
    const { look, read } = await readApart(file, output)
    if (!read) {
      return `${file.name}: ${look.says ?? 'how it is to be read is not known'}. Open it at the Waveform stage and say how it is read, then drop it here again.`
    }
    const text = lastValidText.value
    const shown = await finder().call('captured', { text, output: read.output, reading: read.reading })
    if (shown.length === 0) return `${file.name} shows nothing that points to a fault.`
    setBench({ readings: [...bench.value.readings, ...shown] })
    return undefined
  } catch (error) {
    return error instanceof Error ? error.message : String(error)
  }
}
