/** An accepted proof, read back from its JSON. */
import { CLAUSE_IDS } from '../../standard/index.js'
import { InputError } from '../../units/index.js'
import { type CellVerdict, ORIGINS, overall, type Proof, type Row, worstOf } from '../proof.js'
import { rowName, stationName } from '../words.js'
import { type JsonPath, jsonFault, placeInJson } from './json-text.js'
import type { BaselineSource } from './since.js'

const VERDICTS: readonly CellVerdict[] = ['met', 'broken', 'undecided', 'not shown']

type Json = Record<string, unknown>

/** What makes it no proof that can be compared, and where. */
interface Flaw {
  says: string
  at: JsonPath
}

/**
 * @param proof the present proof, which the accepted one is to be compared with.
 * @throws InputError where the text is no proof, one that was changed by hand, or one of another design, variant, standard or
 * version of the program.
 */
export function readBaseline(text: string, source: BaselineSource, proof: Proof): Proof {
  const { file } = source
  const fail = (found: string, expected: string, at?: JsonPath) =>
    new InputError(`${found}; expected ${expected}`, { file, ...(at ? placeInJson(text, at) : {}) })
  const fault = jsonFault(text)
  if (fault) {
    const { line, column, found, expected } = fault
    throw new InputError(`${found}; expected ${expected}, as in the JSON of an accepted proof`, {
      file,
      line,
      column,
    })
  }
  const json: unknown = JSON.parse(text.replace(/^\ufeff/, ''))
  if (!isRecord(json) || json['halfbit'] !== 1 || json['kind'] !== 'proof')
    throw fail('is no proof', 'the JSON of an accepted proof')
  const flaw = flawOf(json)
  if (flaw)
    throw fail(`is a damaged proof: ${flaw.says}`, 'the JSON of an accepted proof, unchanged', flaw.at)
  const accepted = json as unknown as Proof
  const { about, profile } = accepted
  if (about.version !== proof.about.version)
    throw fail(
      `was made by halfbit ${about.version}`,
      `one of halfbit ${proof.about.version}, as another version may judge otherwise; accept the proof again`,
      ['about', 'version'],
    )
  if (stationName(about) !== stationName(proof.about))
    throw fail(`is the proof of ${stationName(about)}`, `one of ${stationName(proof.about)}`, [
      'about',
      about.name === proof.about.name ? 'variant' : 'name',
    ])
  const standard = (p: Proof['profile']) => `${p.title}, edition ${p.edition}, scale ${p.scale}`
  if (standard(profile) !== standard(proof.profile))
    throw fail(
      `was judged by ${standard(profile)}`,
      `one judged by ${standard(proof.profile)}; accept the proof again`,
      ['profile'],
    )
  if ((about.notes ?? []).some((note) => note.code === 'proof/interrupted') || accepted.stale !== undefined)
    throw fail('is a proof that was interrupted or out of date', 'a whole one')
  return accepted
}

/** The figures that JSON cannot hold are put back. */
function flawOf({ about, profile, rows, counts, verdict }: Json): Flaw | undefined {
  const flaw = (says: string, ...at: JsonPath): Flaw => ({ says, at })
  if (!isRecord(about) || typeof about['name'] !== 'string' || typeof about['version'] !== 'string')
    return flaw('it does not say of which design', 'about')
  if (about['variant'] !== undefined && typeof about['variant'] !== 'string')
    return flaw('its variant is no name', 'about', 'variant')
  if (about['date'] !== undefined && typeof about['date'] !== 'string')
    return flaw('its date is no text', 'about', 'date')
  const { outputs, inputs, notes = [] } = about
  if (!isListOf(outputs, (o) => typeof o['name'] === 'string'))
    return flaw('it names no outputs', 'about', 'outputs')
  if (!isListOf(inputs, () => true) || !isListOf(notes, () => true))
    return flaw('its inputs or notes are no list', 'about')
  if (!isRecord(profile) || ['title', 'edition', 'scale'].some((key) => typeof profile[key] !== 'string'))
    return flaw('it does not say by which standard', 'profile')
  if (!Array.isArray(rows) || rows.length === 0) return flaw('it has no clauses', 'rows')
  const found: Proof['counts'] = { met: 0, broken: 0, undecided: 0, 'not shown': 0 }
  const known = new Set<string>()
  for (const [i, row] of rows.entries()) {
    const own = flawOfRow(row)
    if (own) return flaw(own.says, 'rows', i, ...own.at)
    const name = rowName(row as Row)
    if (known.has(name)) return flaw(`the row of ${name} is there twice`, 'rows', i)
    known.add(name)
    found[(row as Row).verdict]++
  }
  for (const word of VERDICTS) {
    const said = isRecord(counts) ? counts[word] : undefined
    if (said !== found[word])
      return flaw(`it counts ${said ?? 'nothing'} ${word}, and has ${found[word]} such rows`, 'counts', word)
  }
  if (verdict !== overall(found)) return flaw('its verdict is not that of its rows', 'verdict')
  return undefined
}

function flawOfRow(row: unknown): Flaw | undefined {
  if (!isRecord(row) || !CLAUSE_IDS.some((id) => id === row['clause']))
    return { says: 'a row has no known clause', at: isRecord(row) ? ['clause'] : [] }
  const flaw = (says: string, ...at: JsonPath): Flaw => ({ says: `the row of ${row['clause']} ${says}`, at })
  if (row['about'] !== undefined && typeof row['about'] !== 'string') return flaw('is about no name', 'about')
  if (!isVerdict(row['verdict'])) return flaw('has no verdict', 'verdict')
  if (!isRecord(row['cells'])) return flaw('has no cells', 'cells')
  for (const [origin, cell] of Object.entries(row['cells'])) {
    const at = ['cells', origin]
    if (!ORIGINS.some((o) => o === origin)) return flaw('has a cell of no known origin', ...at)
    if (!isRecord(cell) || !isVerdict(cell['verdict'])) return flaw('has a cell without verdict', ...at)
    if (cell['verdict'] === 'not shown') continue
    const { margin, evidence } = cell
    if (typeof margin !== 'number' || !Number.isFinite(margin))
      return flaw('has a cell without margin', ...at)
    if (!isListOf(evidence, isStatement) || evidence.length === 0)
      return flaw('has a cell without statement', ...at)
    if (cell['verdict'] !== worstOf(evidence as { verdict: CellVerdict }[]))
      return flaw('has a cell with another verdict than its statements', ...at, 'verdict')
    if (margin !== Math.min(...evidence.map((e) => e['margin'] as number)))
      return flaw('has a cell with another margin than its statements', ...at, 'margin')
  }
  // What is only declared is met by its cells, and not shown.
  const worst = worstOf(Object.values((row as unknown as Row).cells))
  if (row['verdict'] !== worst && !(row['verdict'] === 'not shown' && worst === 'met'))
    return flaw('has another verdict than its cells', 'verdict')
  return undefined
}

function isVerdict(word: unknown): word is CellVerdict {
  return VERDICTS.some((v) => v === word)
}

/** Infinite ends of an interval are `null` in JSON. */
function isStatement(e: Json): boolean {
  const { value, verdict, margin } = e
  if (!isVerdict(verdict) || verdict === 'not shown' || typeof margin !== 'number') return false
  if (!isRecord(value) || typeof value['unit'] !== 'string') return false
  value['low'] ??= Number.NEGATIVE_INFINITY
  value['high'] ??= Number.POSITIVE_INFINITY
  return typeof value['low'] === 'number' && typeof value['high'] === 'number'
}

function isListOf(list: unknown, fits: (item: Json) => boolean): list is Json[] {
  return Array.isArray(list) && list.every((item) => isRecord(item) && fits(item))
}

function isRecord(value: unknown): value is Json {
  return typeof value === 'object' && value !== null && !Array.isArray(value)
}
