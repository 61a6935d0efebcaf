/** Changes of the design file that draw a railroad, and how its names and lengths are written there. */
import { formatNumber, InputError } from '../../units/index.js'
import type { TrackDesign } from '../design/track.js'
import type { Path } from '../layout/layout.js'

/** A change of the file: a value set, or taken away where there is none. */
export interface FileChange {
  path: Path
  value?: unknown
  /** Of what is taken away: its comments stay in the file. */
  keepsComments?: boolean
}

/** An end that a new section can meet: a name in the file, or the unnamed end of a section. */
export type EndRef = { name: string } | { section: string; end: 'from' | 'to' }

export interface TrackEdit {
  changes: FileChange[]
  /** Sections that are called something else now. */
  renamed?: {
    /** New names by old ones. */
    names: ReadonlyMap<string, string>
    /** The section that was cut in two, and its length before. */
    cut: string
    lengthMm: number
  }[]
  /** What was done, in words. */
  says: string
}

/** The file's data as it stands there, of the parts that edits copy or extend. */
export interface RawFile {
  track?: Record<string, Record<string, Record<string, unknown>>>
  power?: { districts?: Record<string, Record<string, unknown>> }
}

export interface AddSection {
  do: 'add section'
  name: string
  lengthMm: number
  points?: readonly (readonly [number, number])[] | undefined
  /** A curve, in place of points; degrees as the file counts them. */
  arc?: { centre: readonly [number, number]; radiusMm: number; from: number; to: number } | undefined
  from?: EndRef | undefined
  to?: EndRef | undefined
  /** A bus run that feeds it at its middle. */
  bus?: string | undefined
}

const NAME = /^[^./\s][^./]*$/

export function length(mm: number): string {
  return `${formatNumber(Math.max(0, mm), 6)} mm`
}

export function checkName(name: string, taken: readonly string[], what: string): void {
  if (!NAME.test(name))
    throw new InputError(
      `"${name}" is no name for a ${what}; expected letters and digits, without "." and "/"`,
    )
  if (taken.includes(name)) throw new InputError(`there is a ${what} "${name}" already`)
}

export function namesOf(d: TrackDesign): string[] {
  return [d.sections, d.turnouts, d.crossings, d.turntables].flatMap((list) => Object.keys(list ?? {}))
}

/** Points or arc of a section, as the file writes them. */
export function drawnAs({ points, arc }: AddSection): object {
  if (!arc) return { points: (points ?? []).map((p) => p.map(Math.round)) }
  const round = (v: number) => Math.round(v * 100) / 100
  return {
    arc: {
      centre: arc.centre.map(round),
      radius: length(arc.radiusMm),
      from: round(arc.from),
      to: round(arc.to),
    },
  }
}
