/** A clause or a finding explained: one page's worth, for the command line, the documentation and the reports. */
import {
  CLAUSE_EXPLAINED,
  CLAUSE_IDS,
  type ClauseId,
  PROFILES,
  type ProfileId,
  profileOf,
} from '../../standard/index.js'
import { InputError, nearest } from '../../units/index.js'
import { type KnownFinding, knownFindings } from '../findings.js'
import { sourceInWords } from '../source-in-words.js'
import { FINDING_CLAUSES, ROOM_REASONS } from './finding-clauses.data.js'

export interface ExplainedDemand {
  /** `NMRA S-9.x, edition 2020`, or all that say the same. */
  editions: string[]
  demand: string
  source: string
}

export interface Explained {
  kind: 'clause' | 'finding'
  /** `short-trip`, `signal/preamble`. */
  name: string
  title: string
  means: string
  why: string
  /** What people usually do about it; nothing where a finding asks for nothing. */
  usually?: string
  /** What the profiles and editions demand, H0 scale where the scale matters; of a finding that concerns a clause, the clause's. */
  demands: ExplainedDemand[]
  /** Clauses that a finding speaks of, or findings that speak of a clause. */
  related: string[]
  shownBy: string[]
}

/**
 * Every clause, then every finding.
 * @param later indexes of rooms after this one, whose findings are explained too.
 */
export function explainedNames(later: readonly object[] = []): string[] {
  return [...CLAUSE_IDS, ...knownFindings(later).keys()]
}

/**
 * @param later indexes of rooms after this one.
 * @throws InputError where there is no clause and no finding of that name.
 */
export function explain(name: string, later: readonly object[] = []): Explained {
  const clause = CLAUSE_IDS.find((id) => id === name)
  if (clause !== undefined) return explainClause(clause, later)
  const known = knownFindings(later).get(name)
  if (known) return explainFinding(known)
  const close = nearest(name, explainedNames(later))
  throw new InputError(
    `no clause or finding "${name}"${close ? `; the nearest is ${close}` : ''}; expected one such as short-trip or signal/preamble`,
  )
}

function explainClause(id: ClauseId, later: readonly object[]): Explained {
  const { means, why, usually } = CLAUSE_EXPLAINED[id]
  const { title, shownBy } = latest().clauses[id]
  const related = [...knownFindings(later).keys()].filter((code) => clausesOf(code).includes(id))
  return {
    kind: 'clause',
    name: id,
    title,
    means,
    why,
    usually,
    demands: demandsOf(id),
    related,
    shownBy: [...shownBy],
  }
}

function explainFinding({ code, means, remedy }: KnownFinding): Explained {
  const clauses = clausesOf(code)
  const reason = ROOM_REASONS[code.split('/')[0]!]
  const why = clauses.length > 0 ? CLAUSE_EXPLAINED[clauses[0]!].why : reason
  return {
    kind: 'finding',
    name: code,
    title: code,
    means,
    why: why ?? 'It says how far the figures beside it can be trusted.',
    ...(remedy !== undefined
      ? { usually: remedy }
      : clauses.length > 0
        ? { usually: `Where ${clauses[0]} is not met: ${lowerFirst(CLAUSE_EXPLAINED[clauses[0]!].usually)}` }
        : {}),
    demands: clauses.flatMap((id) => demandsOf(id)),
    related: [...clauses],
    shownBy: [],
  }
}

function clausesOf(code: string): readonly ClauseId[] {
  return FINDING_CLAUSES[code] ?? []
}

function lowerFirst(text: string): string {
  return text[0]!.toLowerCase() + text.slice(1)
}

function latest() {
  return profileOf({ profile: 'nmra', scale: 'H0', cutout: false })
}

/** Editions that say the same in the same document stand together. */
function demandsOf(id: ClauseId): ExplainedDemand[] {
  const demands: ExplainedDemand[] = []
  for (const profile of Object.keys(PROFILES) as ProfileId[]) {
    for (const edition of Object.keys(PROFILES[profile].editions).sort().reverse()) {
      const found = profileOf({ profile, edition, scale: 'H0', cutout: false })
      const { demand, source } = found.clauses[id]
      const row = { demand, source: sourceInWords(source) }
      const same = demands.find((d) => d.demand === row.demand && d.source === row.source)
      const name = `${found.title}, edition ${edition}`
      if (same) same.editions.push(name)
      else demands.push({ editions: [name], ...row })
    }
  }
  return demands.length === 1 ? [{ ...demands[0]!, editions: ['every edition'] }] : demands
}
