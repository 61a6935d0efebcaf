/** The bench of a design as plain data, so that threads can play scenarios on it. */
import type { ScenarioResult } from '../bench/index.js'
import { isSimulated, loadFirmware } from '../controller/index.js'
import { type LoadedDesign, loadDesign } from '../design/index.js'
import { type Bench, benchOf, type SourceFile, scenarioFromFile } from '../proof/index.js'
import { InputError, type InputPlace } from '../units/index.js'
import type { DesignFile } from './read-design.js'

export interface BenchData {
  /** Text of the design, and its name. */
  design: string
  file: string
  variant?: string
  firmware: Uint8Array
  firmwareFile: string
  /** Run what the firmware runs often as WebAssembly. */
  translate?: boolean
}

export function benchData(
  { bytes, file, variant }: DesignFile,
  firmware: { bytes: Uint8Array; source: SourceFile },
  translate = false,
): BenchData {
  return {
    design: new TextDecoder().decode(bytes),
    file,
    ...(variant === undefined ? {} : { variant }),
    firmware: firmware.bytes,
    firmwareFile: firmware.source.file,
    translate,
  }
}

/** @throws RangeError when the design has no bench, which is known before a thread begins. */
export function benchFrom(data: BenchData): { loaded: LoadedDesign; bench: Bench } {
  const loaded = loadDesign(data.design, data.file, data.variant, 'whole')
  const { chip } = loaded.design.controller
  const image = loadFirmware(data.firmware, data.firmwareFile)
  if (data.translate) image.translated = true
  const bench = isSimulated(chip) ? benchOf(loaded, image, chip, data.firmwareFile) : undefined
  if (!bench) throw new RangeError('no bench')
  return { loaded, bench }
}

/** A built-in scenario by its place among them, or the text of a scenario file. */
export type ScenarioTask = { standing: number } | { text: string; file: string }

/** An error keeps its kind only as data on the way between threads. */
export type ScenarioDone = { result: ScenarioResult } | { refused: string; place: InputPlace }

export function playTask(bench: Bench, task: ScenarioTask): ScenarioDone {
  try {
    const scenario =
      'text' in task ? scenarioFromFile(bench, task.text, task.file) : bench.standing[task.standing]!
    return { result: scenario.run() }
  } catch (error) {
    if (!(error instanceof InputError)) throw error
    return { refused: error.message, place: error.place }
  }
}
