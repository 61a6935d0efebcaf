/** An accepted proof, read back from its JSON. */
import { CLAUSE_IDS } from '../../standard/index.js'
import { InputError } from '../../units/index.js'
import { ORIGINS, type Proof } from '../proof.js'
import { stationName } from '../words.js'
import type { BaselineSource } from './since.js'

const VERDICTS = ['met', 'broken', 'undecided', 'not shown']

type Json = Record<string, unknown>

/**
 * @param proof the present proof, which the accepted one is to be compared with.
 * @throws InputError where the text is no proof, or one of another design, variant, standard or version of the program.
 */
export function readBaseline(text: string, source: BaselineSource, proof: Proof): Proof {
  const { file } = source
  const fail = (found: string, expected: string) => new InputError(`${found}; expected ${expected}`, { file })
  let json: unknown
  try {
    json = JSON.parse(text.replace(/^\ufeff/, ''))
  } catch {
    throw fail('is not JSON', 'the JSON of an accepted proof')
  }
  if (!isRecord(json) || json['halfbit'] !== 1 || json['kind'] !== 'proof')
    throw fail('is no proof', 'the JSON of an accepted proof')
  const flaw = flawOf(json)
  if (flaw !== undefined)
    throw fail(`is a damaged proof: ${flaw}`, 'the JSON of an accepted proof, unchanged')
  const accepted = json as unknown as Proof
  const { about, profile } = accepted
  if (about.version !== proof.about.version)
    throw fail(
      `was made by halfbit ${about.version}`,
      `one of halfbit ${proof.about.version}, as another version may judge otherwise; accept the proof again`,
    )
  if (stationName(about) !== stationName(proof.about))
    throw fail(`is the proof of ${stationName(about)}`, `one of ${stationName(proof.about)}`)
  const standard = (p: Proof['profile']) => `${p.title}, edition ${p.edition}, scale ${p.scale}`
  if (standard(profile) !== standard(proof.profile))
    throw fail(
      `was judged by ${standard(profile)}`,
      `one judged by ${standard(proof.profile)}; accept the proof again`,
    )
  if ((about.notes ?? []).some((note) => note.code === 'proof/interrupted') || accepted.stale !== undefined)
    throw fail('is a proof that was interrupted or out of date', 'a whole one')
  return accepted
}

/** What makes it no proof that can be compared; the figures that JSON cannot hold are put back. */
function flawOf({ about, profile, rows }: Json): string | undefined {
  if (!isRecord(about) || typeof about['name'] !== 'string' || typeof about['version'] !== 'string')
    return 'it does not say of which design'
  if (about['variant'] !== undefined && typeof about['variant'] !== 'string') return 'its variant is no name'
  if (about['date'] !== undefined && typeof about['date'] !== 'string') return 'its date is no text'
  const { outputs, inputs, notes = [] } = about
  if (!isListOf(outputs, (o) => typeof o['name'] === 'string')) return 'it names no outputs'
  if (!isListOf(inputs, () => true) || !isListOf(notes, () => true)) return 'its inputs or notes are no list'
  if (!isRecord(profile) || ['title', 'edition', 'scale'].some((key) => typeof profile[key] !== 'string'))
    return 'it does not say by which standard'
  if (!Array.isArray(rows) || rows.length === 0) return 'it has no clauses'
  for (const row of rows) {
    if (!isRecord(row) || !CLAUSE_IDS.some((id) => id === row['clause'])) return 'a row has no known clause'
    const name = `the row of ${row['clause']}`
    if (row['about'] !== undefined && typeof row['about'] !== 'string') return `${name} is about no name`
    if (!VERDICTS.includes(row['verdict'] as string)) return `${name} has no verdict`
    if (!isRecord(row['cells'])) return `${name} has no cells`
    for (const [origin, cell] of Object.entries(row['cells'])) {
      if (!ORIGINS.some((o) => o === origin)) return `${name} has a cell of no known origin`
      if (!isRecord(cell) || !VERDICTS.includes(cell['verdict'] as string))
        return `${name} has a cell without verdict`
      if (cell['verdict'] === 'not shown') continue
      const { margin, evidence } = cell
      if (typeof margin !== 'number' || !Number.isFinite(margin)) return `${name} has a cell without margin`
      if (!isListOf(evidence, isStatement) || (evidence as unknown[]).length === 0)
        return `${name} has a cell without statement`
    }
  }
  return undefined
}

/** Infinite ends of an interval are `null` in JSON. */
function isStatement(e: Json): boolean {
  const { value } = e
  if (!isRecord(value) || typeof value['unit'] !== 'string') return false
  value['low'] ??= Number.NEGATIVE_INFINITY
  value['high'] ??= Number.POSITIVE_INFINITY
  return typeof value['low'] === 'number' && typeof value['high'] === 'number'
}

function isListOf(list: unknown, fits: (item: Json) => boolean): boolean {
  return Array.isArray(list) && list.every((item) => isRecord(item) && fits(item))
}

function isRecord(value: unknown): value is Json {
  return typeof value === 'object' && value !== null && !Array.isArray(value)
}
