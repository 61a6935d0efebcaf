/** Bench notes beside what the book expects, and the same reading of several builds beside each other. */
import {
  type BenchNotes,
  type BenchReading,
  type Bounds,
  shownValue,
  VALUE_KEY,
  withError,
} from '../../meter/index.js'
import { formatSi } from '../../units/index.js'
import type { Step } from '../bring-up/step.js'
import type { FigureUnit } from '../contents/figure.js'

export interface NoteRow {
  reading: BenchReading
  value: number
  unit: FigureUnit
  /** With the error of the instrument; absent where that is not known. */
  bounds?: Bounds
  /** The step of the book it belongs to. */
  step?: string
  /** `cannot tell`: it overlaps with the end of what is expected, or the instrument is not known. */
  verdict: 'as expected' | 'off' | 'cannot tell' | 'no step'
}

/** What was read, and where: `track of shelf at mill under 1.4 A`. */
export function readingWords({
  reading,
  of,
  at,
  load,
}: Pick<BenchReading, 'reading' | 'of' | 'at' | 'load'>): string {
  const where = at === undefined ? '' : ` at ${at}`
  return `${reading} of ${of}${where}${load === undefined ? '' : ` under ${formatSi(load, 'A', 3)}`}`
}

const UNIT = { voltage: 'V', current: 'A', time: 'us' } as const

export function noteRows(notes: BenchNotes | undefined, steps: readonly Step[]): NoteRow[] {
  return (notes?.readings ?? []).map((reading) => {
    const value = shownValue(reading)
    const unit = UNIT[VALUE_KEY[reading.reading]]
    const bounds = withError(reading, notes!.instruments[reading.with]!)
    const step = steps.find(
      ({ range: r }) =>
        r?.reading === reading.reading &&
        r.of === reading.of &&
        (r.at === undefined || r.at === reading.at) &&
        // The steps measure voltages with nothing on the track: under a load they are lower everywhere.
        !(VALUE_KEY[reading.reading] === 'voltage' && (reading.load ?? 0) > 0),
    )
    return {
      reading,
      value,
      unit,
      ...(bounds ? { bounds } : {}),
      ...(step ? { step: step.id } : {}),
      verdict: verdictOf(step, bounds),
    }
  })
}

function verdictOf(step: Step | undefined, bounds: Bounds | undefined): NoteRow['verdict'] {
  if (!step?.range) return 'no step'
  if (!bounds) return 'cannot tell'
  const { low, high } = step.range
  if (bounds.low > high.value || bounds.high < low.value) return 'off'
  return bounds.low >= low.value && bounds.high <= high.value ? 'as expected' : 'cannot tell'
}

/** One reading of several builds. */
export interface BuildComparison {
  reading: BenchReading['reading']
  of: string
  at?: string
  load?: number
  unit: FigureUnit
  builds: { build: string; by: string; on: string; value: number; bounds?: Bounds }[]
  /** `differ`: two of them cannot be the same, whatever their instruments' errors are. */
  verdict: 'alike' | 'differ' | 'cannot tell'
}

export function compareBuilds(notes: BenchNotes | undefined): BuildComparison[] {
  const groups = new Map<string, BenchReading[]>()
  for (const r of notes?.readings ?? []) {
    const key = JSON.stringify([r.reading, r.of, r.at ?? '', r.load ?? ''])
    groups.set(key, [...(groups.get(key) ?? []), r])
  }
  return [...groups.values()].flatMap((list): BuildComparison[] => {
    if (new Set(list.map((r) => r.build ?? '')).size < 2) return []
    const [{ reading, of, at, load }] = list as [BenchReading]
    const builds = list.map((r) => {
      const bounds = withError(r, notes!.instruments[r.with]!)
      return {
        build: r.build ?? 'not named',
        by: r.by,
        on: r.on,
        value: shownValue(r),
        ...(bounds ? { bounds } : {}),
      }
    })
    const known = builds.flatMap((b) => (b.bounds ? [b.bounds] : []))
    const apart = known.some((a) => known.some((b) => a.low > b.high))
    const verdict = apart ? 'differ' : known.length === builds.length ? 'alike' : 'cannot tell'
    return [
      {
        reading,
        of,
        ...(at === undefined ? {} : { at }),
        ...(load === undefined ? {} : { load }),
        unit: UNIT[VALUE_KEY[reading]],
        builds,
        verdict,
      },
    ]
  })
}
