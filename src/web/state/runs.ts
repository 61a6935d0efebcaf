/** Runs of firmware and readings of captures: under way, and the last results. They live on when the view changes. */
import { signal } from '@preact/signals'
import type { SimulationReport } from '../../controller/index.js'
import type { Live, ReadSignal } from '../worker/calls.js'
import { addShown, bench, sound, soundText } from './consequences.js'
import { theHost } from './design.js'

export interface Going {
  what: string
  share: number
  says: string
  live?: Live
  stop(): void
}

/** What the bench is doing. */
export const going = signal<Going | undefined>(undefined)
export const benchFault = signal<{ of: 'firmware' | 'capture'; says: string } | undefined>(undefined)
export const lastRun = signal<{ name: string; report: SimulationReport; interrupted: boolean } | undefined>(
  undefined,
)

/** Signals that were read, newest last; the waveform view shows one of them. */
export interface Reading {
  key: string
  /** `main, simulated from station.elf`. */
  title: string
  origin: 'simulated' | 'measured'
  read: ReadSignal
  dialect?: string
}
export const readings = signal<readonly Reading[]>([])
export const chosenReading = signal<string | undefined>(undefined)

function keep(reading: Reading): void {
  readings.value = [...readings.value.filter((r) => r.key !== reading.key), reading].slice(-6)
  chosenReading.value = reading.key
}

export interface DroppedFile {
  name: string
  bytes: () => Promise<Uint8Array>
}

/** Run firmware: a dropped file, or the one that the design names. */
export async function runFirmware(
  dropped: File | undefined,
  stimulus: File | undefined,
  forUs: number,
): Promise<void> {
  const facts = sound.value?.facts
  if (!facts || going.value) return
  benchFault.value = undefined
  const stop = new AbortController()
  const name = dropped?.name ?? facts.firmware?.file ?? ''
  going.value = { what: `Running ${name}`, share: 0, says: 'loading …', stop: () => stop.abort() }
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
      { firmware, name, stimulus: script, text: soundText.value, forUs },
      {
        signal: stop.signal,
        progress: (share, says, live) => {
          if (going.value) going.value = { ...going.value, share, says, live: live as Live }
        },
      },
    )
    lastRun.value = { name, report: gives.report, interrupted: gives.interrupted }
    addShown('firmware', gives.shown)
    for (const read of gives.reads) {
      keep({
        key: `firmware ${read.output}`,
        title: `${read.output}, simulated from ${name}`,
        origin: 'simulated',
        read,
      })
    }
  } catch (error) {
    benchFault.value = { of: 'firmware', says: error instanceof Error ? error.message : String(error) }
  } finally {
    going.value = undefined
  }
}

/** Read and judge a capture: a dropped file, or one that the design lists. */
export async function readCapture(
  what: { file: File; track?: string | undefined } | { listed: number },
): Promise<void> {
  const facts = sound.value?.facts
  if (!facts || going.value) return
  benchFault.value = undefined
  const stop = new AbortController()
  const named = 'listed' in what ? facts.captures[what.listed]! : undefined
  const name = 'file' in what ? what.file.name : named!.file
  going.value = { what: `Reading ${name}`, share: 0, says: 'loading …', stop: () => stop.abort() }
  try {
    const file =
      'file' in what ? what.file : new Blob([(await theHost().read(name)) as Uint8Array<ArrayBuffer>])
    const gives = await bench().call(
      'capture',
      {
        file,
        name,
        text: soundText.value,
        track: 'file' in what ? what.track : undefined,
        listed: 'listed' in what ? what.listed : undefined,
      },
      {
        signal: stop.signal,
        progress: (share, says) => {
          if (going.value) going.value = { ...going.value, share, says }
        },
      },
    )
    addShown(`capture ${name}`, gives.shown)
    keep({
      key: `capture ${name}`,
      title: `${gives.read.output}, captured in ${name}`,
      origin: 'measured',
      read: gives.read,
      dialect: `${gives.dialect}; ${gives.channels.join(' minus ')}`,
    })
  } catch (error) {
    benchFault.value = { of: 'capture', says: error instanceof Error ? error.message : String(error) }
  } finally {
    going.value = undefined
  }
}
