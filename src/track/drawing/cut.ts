/**
 * A section cut in two, with room for a part between the halves: everything on it keeps its place on the railroad:
 * feeders, trains, loads, gaps and settings of joints. A row of sections is cut into what lies before, the two parts,
 * and what lies behind.
 */
import { InputError } from '../../units/index.js'
import type { TrackDesign } from '../design/track.js'
import type { Path, Track } from '../layout/layout.js'
import { jointKeepsRails } from '../layout/layout.js'
import type { TrackModel } from '../model.js'
import { type FileChange, length, namesOf, type RawFile, type TrackEdit } from './file-change.js'
import { arcPoints, lengthOf, partOf } from './lay-out.js'

/** What is left of the section on either side, at least; anything shorter is no piece of track. */
const LEAST_PIECE_MM = 20

type Section = TrackDesign['sections'][string]
type Raw = Record<string, unknown>
export type Renamed = NonNullable<TrackEdit['renamed']>[number]

/** Where a place of the old section is now. */
interface Moved {
  track: string
  atMm: number
}

export interface CutMade {
  changes: FileChange[]
  renamed: Renamed
  /** Middle of the part on the drawing; undefined where the section is not drawn. */
  at: [number, number] | undefined
  /** Direction of the section there, degrees, from the right, growing downwards. */
  along: number
  /** Name of the section that was cut. */
  section: string
  /** Names that are new in the file. */
  names: string[]
}

/**
 * @param what the part is called in a refusal; @param atMm its middle, moved where it would reach beyond an end.
 * @param near,far its ends, as the file names them, towards the start and the end of the section.
 * @param taken names that are used up by another cut.
 * @throws InputError when there is no such section, or it is too short.
 */
export function cutSection(
  model: TrackModel,
  raw: RawFile,
  what: string,
  place: { track: string; atMm: number; lengthMm: number },
  [near, far]: readonly [string, string],
  taken: readonly string[] = [],
): CutMade {
  const { plan } = model
  const d = plan.design
  const t = plan.tracks.find((x) => x.kind === 'section' && x.name === place.track)
  if (!t) throw new InputError(`no section "${place.track}" to put a ${what} in`)
  if (!(place.lengthMm > 0)) throw new InputError(`the ${what} needs a length`)
  const half = place.lengthMm / 2
  const least = half + LEAST_PIECE_MM
  if (t.lengthMm < 2 * least)
    throw new InputError(
      `${t.name} is ${length(t.lengthMm)} long, too short for a ${what} of ${length(place.lengthMm)} with ${length(LEAST_PIECE_MM)} of track on either side`,
    )
  const middle = Math.min(t.lengthMm - least, Math.max(least, Math.round(place.atMm)))
  const cut = new Cut(d, t, middle - half, middle + half, taken)
  const own = d.sections[t.group]!
  const rawOwn = (raw.track?.['sections']?.[t.group] ?? {}) as Raw
  const path = ['track', 'sections', t.group]
  const line = lineOf(own)
  const pieces = cut.pieces()
  const ends = line && [middle - half, middle + half].map((mm) => pointOf(line, own, t, mm))
  const changes = pieces.flatMap((piece): FileChange[] => {
    const from = piece.isFirst ? own.from : piece.kind === 'after' ? far : piece.start
    const to = piece.isLast ? own.to : piece.kind === 'before' ? near : piece.end
    const gaps = [
      ...(piece.isFirst && (own.gaps === 'from' || own.gaps === 'both') ? ['from'] : []),
      ...(piece.isLast && (own.gaps === 'to' || own.gaps === 'both') ? ['to'] : []),
    ]
    const values: Raw = {
      count: piece.count,
      length: length(piece.lengthMm),
      from,
      to,
      gaps: gaps.length === 2 ? 'both' : gaps[0],
      ...drawn(own, piece.share),
    }
    if (piece.name === t.group) return [...differing(path, rawOwn, values), ...cut.keptFeeders(rawOwn)]
    const { feeders: _f, arc: _a, points: _p, gaps: _g, count: _c, ...like } = rawOwn
    const feeders = cut.movedFeeders(rawOwn, piece)
    const value = { ...like, ...values, ...(feeders.length > 0 ? { feeders } : {}) }
    return [{ path: ['track', 'sections', piece.name], value: defined(value) }]
  })
  return {
    changes: [...changes, ...cut.joints(model, raw), ...cut.stands(model)],
    renamed: cut.renamed(),
    at: line && pointOf(line, own, t, middle),
    along: ends ? (Math.atan2(ends[1]![1] - ends[0]![1], ends[1]![0] - ends[0]![0]) * 180) / Math.PI : 0,
    section: t.name,
    names: pieces.map((piece) => piece.name),
  }
}

interface Piece {
  name: string
  kind: 'row before' | 'before' | 'after' | 'row behind'
  count: number | undefined
  lengthMm: number
  isFirst: boolean
  isLast: boolean
  /** Names of the places where it meets the next piece of the row. */
  start?: string
  end?: string
  /** Part of the drawing, from and to as shares of it. */
  share: [number, number]
}

/** How the section or row is cut, and where what was on it is afterwards. */
class Cut {
  readonly #names: { before: string; after: string; behind: string }
  /** Joints between the pieces of a row. */
  readonly #places: { before: string; behind: string }
  readonly #own: Section
  readonly #isRow: boolean

  constructor(
    design: TrackDesign,
    private readonly t: Track,
    /** Where the part before it ends, and the part after it begins. */
    private readonly endMm: number,
    private readonly startMm: number,
    others: readonly string[],
  ) {
    this.#own = design.sections[t.group]!
    this.#isRow = this.#own.count !== undefined
    const taken = new Set([
      ...namesOf(design),
      ...others,
      ...Object.values(design.sections).flatMap((s) => [s.from ?? '', s.to ?? '']),
    ])
    const fresh = (word: string) => {
      let name = word
      for (let n = 2; taken.has(name); n++) name = `${word}-${n}`
      taken.add(name)
      return name
    }
    const { group, index } = t
    this.#names = {
      before: this.#isRow && index > 0 ? fresh(`${group}-2`) : group,
      after: fresh(`${group}-2`),
      behind: this.#isRow && index < t.count - 1 ? fresh(`${group}-2`) : '',
    }
    this.#places = { before: fresh(`${this.#names.before}-start`), behind: fresh(`${this.#names.after}-end`) }
  }

  pieces(): Piece[] {
    const { t, endMm, startMm } = this
    const { index: i, count, lengthMm } = t
    const hasBefore = this.#isRow && i > 0
    const hasBehind = this.#names.behind !== ''
    const at = (mm: number) => (i * lengthMm + mm) / (count * lengthMm)
    const list: Piece[] = [
      {
        name: this.#names.before,
        kind: 'before',
        count: this.#isRow && !hasBefore ? 1 : undefined,
        lengthMm: endMm,
        isFirst: !hasBefore,
        isLast: false,
        ...(hasBefore ? { start: this.#places.before } : {}),
        share: [at(0), at(endMm)],
      },
      {
        name: this.#names.after,
        kind: 'after',
        count: undefined,
        lengthMm: lengthMm - startMm,
        isFirst: false,
        isLast: !hasBehind,
        ...(hasBehind ? { end: this.#places.behind } : {}),
        share: [at(startMm), at(lengthMm)],
      },
    ]
    if (hasBefore)
      list.unshift({
        name: t.group,
        kind: 'row before',
        count: i,
        lengthMm,
        isFirst: true,
        isLast: false,
        end: this.#places.before,
        share: [0, at(0)],
      })
    if (hasBehind)
      list.push({
        name: this.#names.behind,
        kind: 'row behind',
        count: count - i - 1,
        lengthMm,
        isFirst: false,
        isLast: true,
        start: this.#places.behind,
        share: [at(lengthMm), 1],
      })
    return list
  }

  /** Where a place on one of the row is now. */
  #place(index: number, atMm: number): Moved {
    const { t, endMm, startMm } = this
    if (index < t.index) return { track: `${t.group}.${index + 1}`, atMm }
    if (index > t.index) return { track: `${this.#names.behind}.${index - t.index}`, atMm }
    // What lay where the new part is now goes to its nearer end.
    if (atMm <= (endMm + startMm) / 2) return { track: this.#nameBefore(), atMm: Math.min(atMm, endMm) }
    return { track: this.#names.after, atMm: Math.max(0, atMm - startMm) }
  }

  #nameBefore(): string {
    const { before } = this.#names
    return this.#isRow && before === this.t.group ? `${before}.1` : before
  }

  /** New names by old ones, for whoever names a section without a place on it. */
  renamed(): Renamed {
    const { t } = this
    const names = new Map<string, string>()
    for (let k = t.index; k < t.count; k++) {
      const old = this.#isRow ? `${t.group}.${k + 1}` : t.group
      const { track } = this.#place(k, 0)
      if (track !== old) names.set(old, track)
    }
    return { names, cut: this.#isRow ? t.name : t.group, lengthMm: t.lengthMm }
  }

  /** Feeders of the part that keeps its name. */
  keptFeeders(raw: Raw): FileChange[] {
    const { t } = this
    const path = ['track', 'sections', t.group, 'feeders']
    const list = feedersOf(raw)
    const changes: FileChange[] = []
    let left = list.length
    for (let n = list.length - 1; n >= 0; n--) {
      const own: Path = Array.isArray(raw['feeders']) ? [...path, n] : path
      const f = this.#own.feeders![n]!
      const keepsRow = this.#names.before !== t.group
      if (keepsRow ? f.first <= t.index : this.#placeOf(n)?.track === this.#nameBefore()) {
        if (!keepsRow) changes.push({ path: [...own, 'place'], value: length(this.#placeOf(n)!.atMm) })
        continue
      }
      changes.push({ path: --left === 0 ? path : own, keepsComments: true })
    }
    return changes
  }

  /** Where a feeder of the cut section is; nowhere where it feeds others of the row only. */
  #placeOf(n: number): Moved | undefined {
    const f = this.#own.feeders![n]!
    const steps = (this.t.index + 1 - f.first) / f.every
    if (steps < 0 || !Number.isInteger(steps)) return undefined
    return this.#place(this.t.index, f.place ?? this.t.lengthMm / 2)
  }

  /** Feeders of a part with a new name, as the file writes them. */
  movedFeeders(raw: Raw, piece: Piece): Raw[] {
    const { t } = this
    return feedersOf(raw).flatMap((one, n): Raw[] => {
      const f = this.#own.feeders![n]!
      const { first: _first, every, step, at: _at, place, ...like } = one as Raw
      const busAt = (index: number) => {
        if (f.at === undefined && f.step === undefined) return {}
        return { at: length((f.at ?? 0) + ((index + 1 - f.first) / f.every) * (f.step ?? 0)) }
      }
      if (piece.kind === 'row behind') {
        let next = f.first - 1
        while (next <= t.index) next += f.every
        if (next >= t.count) return []
        const first = next - t.index
        return [
          defined({ ...like, ...busAt(next), step, every, place, ...(first === 1 ? {} : { first }) }) as Raw,
        ]
      }
      const there = this.#placeOf(n)
      if (there?.track !== piece.name) return []
      return [{ ...like, ...busAt(t.index), place: length(there.atMm) }]
    })
  }

  /** Settings of joints that have another name now, or are seen from the other side. */
  joints({ plan }: TrackModel, raw: RawFile): FileChange[] {
    const { t } = this
    const settings = (raw.track?.['joints'] ?? {}) as Record<string, Raw>
    const changes: FileChange[] = []
    const rename = (old: string, name: string) => {
      const own = settings[old]
      if (own) changes.push({ path: ['track', 'joints', old], keepsComments: true })
      // Between the pieces of a row the joiner is still the row's.
      const joiner = this.#own.joiner
      const value = { ...(joiner ? { joiner } : {}), ...own }
      if (Object.keys(value).length > 0) changes.push({ path: ['track', 'joints', name], value })
    }
    if (this.#isRow) {
      const inner = (k: number) => `${t.group}.${k}/${k + 1}`
      if (t.index > 0) rename(inner(t.index), this.#places.before)
      if (t.index < t.count - 1) rename(inner(t.index + 1), this.#places.behind)
      for (let k = t.index + 2; k < t.count; k++)
        if (settings[inner(k)]) {
          changes.push({ path: ['track', 'joints', inner(k)], keepsComments: true })
          changes.push({
            path: ['track', 'joints', `${this.#names.behind}.${k - t.index - 1}/${k - t.index}`],
            value: settings[inner(k)],
          })
        }
    }
    // The new section comes last in the file; left and right are told along the first of the two.
    const lastEnd = 2 * plan.tracks.findIndex((x) => x.group === t.group && x.index === t.count - 1) + 1
    const joint = plan.joints.find((j) => j.a === lastEnd || j.b === lastEnd)
    const gap = joint && settings[joint.name]?.['gap']
    if (joint && (gap === 'left' || gap === 'right') && !jointKeepsRails(joint)) {
      const other = joint.a === lastEnd ? joint.b : joint.a
      if (lastEnd < other && plan.tracks[other >> 1]!.kind === 'section')
        changes.push({
          path: ['track', 'joints', joint.name, 'gap'],
          value: gap === 'left' ? 'right' : 'left',
        })
    }
    return changes
  }

  /** Trains and loads stay where they are on the rails. */
  stands({ plan }: TrackModel): FileChange[] {
    const { t } = this
    return plan.stands.flatMap((s): FileChange[] => {
      const on = plan.tracks[s.track]
      if (on?.kind !== 'section' || on.group !== t.group) return []
      const now = this.#place(on.index, s.atMm)
      const list: FileChange[] = []
      if (now.track !== on.name) list.push({ path: [...s.path, 'section'], value: now.track })
      if (on.index === t.index) list.push({ path: [...s.path, 'at'], value: length(now.atMm) })
      return list
    })
  }
}

function feedersOf(raw: Raw): unknown[] {
  const had = raw['feeders']
  return Array.isArray(had) ? had : had ? [had] : []
}

function defined(value: Raw): Raw {
  return Object.fromEntries(Object.entries(value).filter(([, v]) => v !== undefined))
}

const isRecord = (value: unknown): value is Raw =>
  typeof value === 'object' && value !== null && !Array.isArray(value)

/** Only the keys whose value becomes another one. */
function differing(path: Path, raw: Raw, values: Raw): FileChange[] {
  return Object.entries(values).flatMap(([key, value]): FileChange[] => {
    if (value === undefined)
      return raw[key] === undefined ? [] : [{ path: [...path, key], keepsComments: true }]
    const had = raw[key]
    if (isRecord(value) && isRecord(had)) return differing([...path, key], had, value)
    return JSON.stringify(raw[key]) === JSON.stringify(value) ? [] : [{ path: [...path, key], value }]
  })
}

function lineOf(own: Section): [number, number][] | undefined {
  return own.points
    ? own.points.map((p): [number, number] => [p[0]!, p[1]!])
    : own.arc
      ? arcPoints(own.arc)
      : undefined
}

function pointOf(line: [number, number][], own: Section, t: Track, mm: number): [number, number] {
  const share = (t.index * t.lengthMm + mm) / (t.count * t.lengthMm)
  if (own.arc) {
    const angle = ((own.arc.from + (own.arc.to - own.arc.from) * share) * Math.PI) / 180
    const [x, y] = own.arc.centre
    return [x! + own.arc.radius * Math.cos(angle), y! + own.arc.radius * Math.sin(angle)]
  }
  return partOf(line, lengthOf(line) * share, lengthOf(line))[0]!
}

/** Part of the drawing; nothing where the section is not drawn. */
function drawn(own: Section, [from, to]: [number, number]): Raw {
  if (own.arc) {
    const angle = (share: number) =>
      Math.round((own.arc!.from + (own.arc!.to - own.arc!.from) * share) * 100) / 100
    const { centre, radius } = own.arc
    return { arc: { centre: [...centre], radius: length(radius), from: angle(from), to: angle(to) } }
  }
  const line = lineOf(own)
  if (!line) return {}
  const total = lengthOf(line)
  return { points: partOf(line, total * from, total * to).map((p) => p.map(Math.round)) }
}
