/** Runs of firmware and readings of captures: under way, and the last results. They live on when the view changes. */
import { computed, signal } from '@preact/signals'
import type { SimulationReport } from '../../controller/index.js'
import type { RunEvidence } from '../../proof/index.js'
import type { Evidence } from '../../standard/index.js'
import type { WaveRecord } from '../wave/record.js'
import type { CaptureLook, CaptureSettings, Live, ReadSignal } from '../worker/calls.js'
import { addRunEvidence, bench, lastValid, lastValidText } from './consequences.js'
import { theHost } from './design.js'
import { keepSide } from './kept-sides.js'

export interface Going {
  /** Of the result: `firmware`, `capture main.vcd`. */
  key: string
  kind: RunEvidence['kind']
  /** What of the design it depends on. */
  of: string
  /** Nobody asked for it: the design names it. */
  isAutomatic?: boolean
  /** It was stopped for something that was asked for: what it showed so far is not kept, and it starts again later. */
  givesWay?: boolean
  what: string
  share: number
  says: string
  live?: Live
  /** The looks so far, thinned out when they become many. */
  lives?: readonly Live[]
  stop(): void
}

/** What the bench is doing. */
export const going = signal<Going | undefined>(undefined)
/** Something that was asked for is under way; what runs by itself gives way. */
export const isBusy = computed(() => going.value !== undefined && !going.value.isAutomatic)

/** @returns false where what is under way was asked for. */
export async function makeWay(): Promise<boolean> {
  const now = going.value
  if (!now) return true
  if (!now.isAutomatic) return false
  going.value = { ...now, givesWay: true }
  now.stop()
  while (going.value) await new Promise((done) => setTimeout(done, 20))
  return true
}
export const benchFault = signal<{ of: 'firmware' | 'capture'; says: string } | undefined>(undefined)
export interface LastRun {
  name: string
  report: SimulationReport
  interrupted: boolean
  lives: readonly Live[]
}
export const lastRun = signal<LastRun | undefined>(undefined)

/** Simulated where neither the design nor anybody says how long. */
export const DEFAULT_RUN_US = 5e6

/** How the last run or reading of something ended. */
export interface Attempt {
  /** What of the design it depended on. */
  of: string
  outcome: 'done' | 'stopped' | 'failed'
  says?: string
  tookMs?: number
}
/** By the key of the result. */
export const attempts = signal<ReadonlyMap<string, Attempt>>(new Map())

export function setAttempt(key: string, attempt: Attempt): void {
  attempts.value = new Map(attempts.value).set(key, attempt)
}

const MOST_LOOKS = 400

/** One more look; of too many every two become one, which holds the extremes of both. */
function withLook(lives: readonly Live[], live: Live): Live[] {
  if (lives.length < MOST_LOOKS) return [...lives, live]
  const merged: Live[] = []
  for (let i = 0; i + 1 < lives.length; i += 2) {
    const [a, b] = [lives[i]!, lives[i + 1]!]
    const outputs = b.outputs.map((o, k) => {
      const before = a.outputs[k]!
      return {
        ...o,
        oneLowUs: Math.min(o.oneLowUs, before.oneLowUs),
        oneHighUs: Math.max(o.oneHighUs, before.oneHighUs),
        zeroLowUs: Math.min(o.zeroLowUs, before.zeroLowUs),
        zeroHighUs: Math.max(o.zeroHighUs, before.zeroHighUs),
      }
    })
    merged.push({ ...b, outputs })
  }
  return [...merged, live]
}

/** Signals that were read, newest last; the waveform view shows one of them. */
export interface Reading {
  key: string
  /** Key of the result that it belongs to. */
  source: string
  /** `main, simulated from station.elf`. */
  title: string
  origin: 'simulated' | 'measured'
  read: ReadSignal
  dialect?: string
  notes?: readonly string[]
}
export const readings = signal<readonly Reading[]>([])
export const chosenReading = signal<string | undefined>(undefined)
/** A time of the chosen reading to go to, us. */
export const wantedTime = signal<number | undefined>(undefined)

/** The reading in which a statement's place can be looked at, while it is kept. */
export function readingOf({ origin, where, about }: Evidence): Reading | undefined {
  if (where?.timeUs === undefined) return undefined
  const key = origin === 'simulated' ? `firmware ${about ?? where.channel ?? ''}` : `capture ${where.file}`
  return readings.value.find((r) => r.key === key)
}

function keep(reading: Reading): void {
  readings.value = [...readings.value.filter((r) => r.key !== reading.key), reading].slice(-6)
  chosenReading.value = reading.key
}

let lastAsked: [File | undefined, File | undefined, number] | undefined

/** The firmware that was run last, once more. */
export async function runAgain(isAutomatic = false): Promise<void> {
  if (lastAsked) await runFirmware(...lastAsked, isAutomatic)
}

/** Run firmware: a dropped file, or the one that the design names. */
export async function runFirmware(
  dropped: File | undefined,
  stimulus: File | undefined,
  forUs: number,
  isAutomatic = false,
): Promise<void> {
  if (going.value && !(await makeWay())) return
  const facts = lastValid.value?.facts
  if (!facts) return
  benchFault.value = undefined
  const stop = new AbortController()
  let lives: readonly Live[] = []
  const name = dropped?.name ?? facts.firmware?.file ?? ''
  const key = 'firmware'
  const of = facts.dependsOn.run
  const started = performance.now()
  lastAsked = [dropped, stimulus, forUs]
  going.value = {
    key,
    kind: 'run',
    of,
    isAutomatic,
    what: `Running ${name}`,
    share: 0,
    says: 'loading …',
    stop: () => stop.abort(),
  }
  try {
    const firmware = dropped ? new Uint8Array(await dropped.arrayBuffer()) : await theHost().read(name)
    const script = stimulus
      ? { text: await stimulus.text(), name: stimulus.name }
      : facts.firmware?.stimulus === undefined
        ? undefined
        : {
            text: new TextDecoder().decode(await theHost().read(facts.firmware.stimulus)),
            name: facts.firmware.stimulus,
          }
    const gives = await bench().call(
      'simulate',
      { firmware, name, stimulus: script, text: lastValidText.value, forUs },
      {
        signal: stop.signal,
        progress: (share, says, detail) => {
          const live = detail as Live
          lives = withLook(lives, live)
          if (going.value) going.value = { ...going.value, share, says, live, lives }
        },
      },
    )
    lastRun.value = { name, report: gives.report, interrupted: gives.interrupted, lives }
    if (going.value?.givesWay) return
    setAttempt(key, {
      of,
      outcome: gives.interrupted ? 'stopped' : 'done',
      tookMs: performance.now() - started,
    })
    addRunEvidence(key, gives.evidence)
    keepSide(name, lastValidText.value, gives)
    for (const read of gives.reads) {
      keep({
        key: `firmware ${read.output}`,
        source: key,
        title: `${read.output}, simulated from ${name}`,
        origin: 'simulated',
        read,
      })
    }
  } catch (error) {
    if (going.value?.givesWay) return
    const says = error instanceof Error ? error.message : String(error)
    setAttempt(key, { of, outcome: stop.signal.aborted ? 'stopped' : 'failed', says })
    benchFault.value = { of: 'firmware', says }
  } finally {
    going.value = undefined
  }
}

/** A capture that was dropped or read, and how it is read: so that it can be evaluated again with other settings. */
export interface OpenCapture {
  name: string
  file?: File
  listed?: number
  output?: string | undefined
  settings: CaptureSettings
  look: CaptureLook
}
export const openCapture = signal<OpenCapture | undefined>(undefined)

const settingsKey = (name: string) => `halfbit-capture ${lastValid.value?.facts?.name ?? ''} ${name}`

function keptSettings(name: string): CaptureSettings {
  try {
    return JSON.parse(localStorage.getItem(settingsKey(name)) ?? '{}')
  } catch {
    return {}
  }
}

/** A dropped file: evaluated at once where the file says enough, else after a few questions. */
export async function takeCapture(file: File, output: string | undefined): Promise<void> {
  if (going.value && !(await makeWay())) return
  benchFault.value = undefined
  // The form of another file would look like this one's.
  openCapture.value = undefined
  const settings = keptSettings(file.name)
  try {
    const look = await bench().call('look', { file, settings })
    openCapture.value = { name: file.name, file, output, settings, look }
    if (look.format !== undefined && !look.says) await readCapture(openCapture.value)
    else if (look.says && look.format !== undefined && look.format !== 'raw' && look.channels.length === 0)
      benchFault.value = { of: 'capture', says: `${file.name}: ${look.says}` }
  } catch (error) {
    const says = error instanceof Error ? error.message : String(error)
    benchFault.value = {
      of: 'capture',
      says: says.startsWith(file.name) ? says : `${file.name}: ${says}`,
    }
  }
}

/** One that the design lists, which says how it is read. */
export async function takeListed(listed: number, isAutomatic = false): Promise<void> {
  if (going.value && !(await makeWay())) return
  const named = lastValid.value?.facts?.captures[listed]
  if (!named) return
  const name = named.file
  const settings = keptSettings(name)
  benchFault.value = undefined
  try {
    const file = await listedFile(name)
    const { says: _, ...look } = await bench().call('look', { file, settings })
    await readCapture({ name, listed, settings, look }, isAutomatic)
  } catch (error) {
    const says = error instanceof Error ? error.message : String(error)
    setAttempt(`capture ${name}`, {
      of: lastValid.value?.facts?.dependsOn.capture ?? '',
      outcome: 'failed',
      says,
    })
    benchFault.value = { of: 'capture', says }
  }
}

async function listedFile(name: string): Promise<Blob> {
  return new Blob([(await theHost().read(name)) as Uint8Array<ArrayBuffer>])
}

/** Read and evaluate a capture with these settings; they are kept in this browser, for this design. */
export async function readCapture(capture: OpenCapture, isAutomatic = false): Promise<void> {
  if (going.value && !(await makeWay())) return
  const facts = lastValid.value?.facts
  if (!facts) return
  const { name, listed, settings, output } = capture
  const key = `capture ${name}`
  const of = facts.dependsOn.capture
  const started = performance.now()
  openCapture.value = capture
  benchFault.value = undefined
  const stop = new AbortController()
  going.value = {
    key,
    kind: 'capture',
    of,
    isAutomatic,
    what: `Reading ${name}`,
    share: 0,
    says: 'loading …',
    stop: () => stop.abort(),
  }
  try {
    if (Object.values(settings).some((v) => v !== undefined))
      localStorage.setItem(settingsKey(name), JSON.stringify(settings))
    else localStorage.removeItem(settingsKey(name))
    const file = capture.file ?? (await listedFile(name))
    const gives = await bench().call(
      'capture',
      { file, name, text: lastValidText.value, output, listed, settings },
      {
        signal: stop.signal,
        progress: (share, says) => {
          if (going.value) going.value = { ...going.value, share, says }
        },
      },
    )
    if (going.value?.givesWay) return
    openCapture.value = { ...capture, look: gives.look }
    setAttempt(key, {
      of,
      outcome: gives.interrupted ? 'stopped' : 'done',
      tookMs: performance.now() - started,
    })
    addRunEvidence(key, gives.evidence)
    keepSide(name, lastValidText.value, { reads: [gives.read], evidence: gives.evidence })
    keep({
      key,
      source: key,
      title: `${gives.read.output}, captured in ${name}${gives.interrupted ? ' (stopped early)' : ''}`,
      origin: 'measured',
      read: gives.read,
      dialect: `${gives.dialect}; ${gives.channels.join(' minus ')}`,
      notes: gives.notes,
    })
  } catch (error) {
    if (going.value?.givesWay) return
    const says = error instanceof Error ? error.message : String(error)
    setAttempt(key, { of, outcome: stop.signal.aborted ? 'stopped' : 'failed', says })
    benchFault.value = { of: 'capture', says }
  } finally {
    going.value = undefined
  }
}

/**
 * Reads a capture with the settings that are kept for its name, and keeps nothing of it.
 * @returns no reading where those settings and the file do not say enough.
 */
export async function readApart(
  file: File,
  output: string | undefined,
): Promise<{ look: CaptureLook; read?: ReadSignal }> {
  if (going.value && !(await makeWay()))
    throw new Error('Something else is running: stop it, or wait for it.')
  const settings = keptSettings(file.name)
  const look = await bench().call('look', { file, settings })
  if (look.format === undefined || look.says) return { look }
  const stop = new AbortController()
  const key = `capture apart ${file.name}`
  going.value = {
    key,
    kind: 'capture',
    of: '',
    what: `Reading ${file.name}`,
    share: 0,
    says: 'loading …',
    stop: () => stop.abort(),
  }
  try {
    const given = { file, name: file.name, text: lastValidText.value, output, listed: undefined, settings }
    const gives = await bench().call('capture', given, {
      signal: stop.signal,
      progress: (share, says) => {
        if (going.value) going.value = { ...going.value, share, says }
      },
    })
    return { look: gives.look, read: gives.read }
  } finally {
    going.value = undefined
  }
}

/** A stretch of a capture edge by edge, from the file. */
export function readStretch(source: number, fromUs: number, toUs: number): Promise<WaveRecord | undefined> {
  return bench().call('stretch', { source, fromUs, toUs })
}
