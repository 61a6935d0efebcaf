/** What each clause is about in a design: which outputs, districts and parts owe it, and what is said of each. */
import { CLAUSE_FACTS, type ClauseId, type OutputMode, type Statement } from '../standard/index.js'

/** An output, a district or another part that has a row of its own. */
export interface Part {
  name: string
  /** Of the output, or of the one that the district repeats. */
  mode?: OutputMode | undefined
  cutout?: boolean | undefined
  /** A district that measures its current. */
  sense?: boolean | undefined
}

/** Parts of a station beside its outputs. */
export interface StationParts {
  districts?: readonly Part[]
  drivers?: readonly Part[]
  supplies?: readonly Part[]
  /** It names firmware, or its controller can be simulated: clauses about firmware are owed. */
  firmware?: boolean
}

export interface Subject {
  /** Absent where the clause is about the whole. */
  part: Part | undefined
  list: Statement[]
}

/** One subject for each part that owes the clause, and for whatever else a statement names. */
export function subjectsOf(
  id: ClauseId,
  statements: readonly Statement[],
  outputs: readonly Part[],
  parts: StationParts,
): Subject[] {
  const { concerns } = CLAUSE_FACTS[id]
  const owing = partsOf(concerns, outputs, parts).filter((part) => owes(id, part))
  const lists = new Map<string | undefined, Subject>(owing.map((part) => [part.name, { part, list: [] }]))
  // What names no output is about the only one there is.
  const only = concerns === 'output' && outputs.length === 1 ? outputs[0]!.name : undefined
  for (const statement of statements) {
    if (statement.clause !== id) continue
    const name = statement.about ?? only
    const known = lists.get(name)
    if (known) known.list.push(statement)
    else {
      const part = name === undefined ? undefined : (outputs.find((o) => o.name === name) ?? { name })
      lists.set(name, { part, list: [statement] })
    }
  }
  if (lists.size === 0 && owedByWhole(id, outputs, parts)) lists.set(undefined, { part: undefined, list: [] })
  return [...lists.values()]
}

function partsOf(
  concerns: (typeof CLAUSE_FACTS)[ClauseId]['concerns'],
  outputs: readonly Part[],
  { districts = [], drivers = [], supplies = [] }: StationParts,
): readonly Part[] {
  const lists: Partial<Record<typeof concerns, readonly Part[]>> = {
    output: outputs,
    district: districts,
    driver: drivers,
    supply: supplies,
  }
  return lists[concerns] ?? []
}

/** Some clauses are about what only some outputs do; of a part whose output is not known, all are owed. */
function owes(id: ClauseId, { mode, cutout, sense }: Part): boolean {
  const { owedBy } = CLAUSE_FACTS[id]
  if (owedBy?.mode !== undefined && mode !== undefined && mode !== owedBy.mode) return false
  if (owedBy?.sense && sense === false) return false
  return !owedBy?.cutout || cutout === true
}

/** A clause about the whole, or about parts that the design does not describe. */
function owedByWhole(id: ClauseId, outputs: readonly Part[], { firmware }: StationParts): boolean {
  const { concerns } = CLAUSE_FACTS[id]
  if (concerns === 'firmware') return firmware === true
  return concerns !== 'output' && (outputs.length === 0 || outputs.some((output) => owes(id, output)))
}
