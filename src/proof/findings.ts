/** Every code that a room can tell, with what it means and what to do about it: one list for documents and faces. */
import * as bench from '../bench/index.js'
import * as capture from '../capture/index.js'
import * as controller from '../controller/index.js'
import * as design from '../design/index.js'
import type { FindingTable, Meaning } from '../finding/index.js'
import * as meter from '../meter/index.js'
import * as power from '../power/index.js'
import * as signal from '../signal/index.js'
import * as standard from '../standard/index.js'
import * as track from '../track/index.js'
import * as traffic from '../traffic/index.js'
import { BEHAVIOUR_FINDINGS } from './behaviour-findings.data.js'
import { PROOF_FINDINGS } from './findings.data.js'
import { MATRIX_FINDINGS } from './matrix/findings.data.js'

export interface KnownFinding {
  code: string
  means: string
  remedy?: string
}

/**
 * The tables of all rooms. A room joins by exporting its table from its index.
 * @param later indexes of rooms after this one.
 */
export function findingTables(later: readonly object[] = []): FindingTable[] {
  const rooms: readonly object[] = [
    standard,
    signal,
    capture,
    controller,
    meter,
    power,
    track,
    traffic,
    bench,
    design,
    ...later,
  ]
  const tables = [
    ...rooms.flatMap((room) => Object.values(room).filter(isTable)),
    BEHAVIOUR_FINDINGS,
    PROOF_FINDINGS,
    MATRIX_FINDINGS,
  ]
  // The order of exports is not the same everywhere.
  return tables.sort((a, b) => (a.room < b.room ? -1 : a.room > b.room ? 1 : 0))
}

let known: ReadonlyMap<string, KnownFinding> | undefined

/** By code. */
export function knownFindings(later: readonly object[] = []): ReadonlyMap<string, KnownFinding> {
  if (later.length > 0) return listFindings(later)
  known ??= listFindings([])
  return known
}

function listFindings(later: readonly object[]): ReadonlyMap<string, KnownFinding> {
  const list = findingTables(later).flatMap(({ room, meanings }) =>
    Object.entries(meanings as Record<string, Meaning>).map(([name, { means, remedy }]) => {
      const code = `${room}/${name}`
      return [code, { code, means, ...(remedy === undefined ? {} : { remedy }) }] as const
    }),
  )
  return new Map(list)
}

function isTable(value: unknown): value is FindingTable {
  return typeof value === 'object' && value !== null && 'meanings' in value && 'room' in value
}

/** The list as a page of the documentation. */
export function findingsReference(later: readonly object[] = []): string {
  const rooms = [...new Set(findingTables(later).map((t) => t.room))]
  const findings = [...knownFindings(later).values()]
  const rows = (room: string) =>
    findings
      .filter(({ code }) => code.startsWith(`${room}/`))
      .map(({ code, means, remedy }) => `| \`${code}\` | ${cell(means)} | ${cell(remedy ?? '')} |`)
  return `${[
    '# Findings',
    '',
    'What Halfbit says beside figures has a code. The codes are stable and stand in the JSON (`finding.code`, with its',
    'parameters); the sentences may change. This page is written from the tables of the rooms: `npm run generate`.',
    ...rooms.flatMap((room) => [
      '',
      `## ${room}`,
      '',
      '| code | what it means | what to do |',
      '|---|---|---|',
      ...rows(room),
    ]),
  ].join('\n')}\n`
}

function cell(text: string): string {
  return text.replace(/\|/g, '\\|').replace(/</g, '&lt;').replace(/\s+/g, ' ')
}
