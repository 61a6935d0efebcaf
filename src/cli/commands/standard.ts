import { SERVICE_MODES, SERVICE_STEPS } from '../../packet/index.js'
import { textTable, wrapText } from '../../plot/text.js'
import { limitsText } from '../../proof/limits-text.js'
import {
  type Clause,
  type Limits,
  PROFILES,
  type Profile,
  type ProfileId,
  profileOf,
  type Rule,
  SCALES,
  type Scale,
  type Source,
} from '../../standard/index.js'
import { formatNumber, InputError, nearest } from '../../units/index.js'
import type { Arguments, Command, ExitStatus, Io } from '../command.js'

export const command: Command = {
  usage: ['standard [PROFILE] [--edition YEAR] [--scale SCALE] [--cutout] [--json]'],
  about: `Prints the limits of one profile and edition with their sources: what a station must keep, what decoders must accept,
and the counts and ranges that go with them. Everything that reads, judges or draws a signal uses this table.
A source marked "from memory" was not read: compare it with the current edition.`,
  options: {
    edition: { type: 'string', value: 'YEAR', help: 'edition of the profile (its latest)' },
    scale: {
      type: 'string',
      value: 'SCALE',
      choices: Object.keys(SCALES),
      help: 'scale of the railroad (H0)',
    },
    cutout: { type: 'boolean', help: 'the station makes bidirectional cut-outs' },
  },
  takes: { min: 0, max: 1, what: 'one profile: nmra or rcn', choices: Object.keys(PROFILES) },
  examples: ['halfbit standard', 'halfbit standard rcn --edition 2013 --scale N'],
  run,
}

async function run(args: Arguments, io: Io): Promise<ExitStatus> {
  const profile = profileFrom(args)
  if (args.on('json')) io.out(JSON.stringify(standardJson(profile), null, 2))
  else io.out(standardText(profile, io.width).join('\n'))
  return 0
}

/** @throws InputError naming what there is. */
function profileFrom(args: Arguments): Profile {
  const id = choice('profile', args.positionals[0] ?? 'nmra', Object.keys(PROFILES)) as ProfileId
  const scale = choice('scale', args.text('scale') ?? 'H0', Object.keys(SCALES)) as Scale
  const wanted = args.text('edition')
  const edition =
    wanted === undefined ? undefined : choice('edition', wanted, Object.keys(PROFILES[id].editions))
  return profileOf({ profile: id, scale, cutout: args.on('cutout'), ...(edition ? { edition } : {}) })
}

function choice(what: string, text: string, choices: readonly string[]): string {
  if (choices.includes(text)) return text
  const close = nearest(text, choices)
  const hint = close ? `; the nearest is ${close}` : ''
  throw new InputError(`no ${what} "${text}"${hint}; expected ${choices.join(', ')}`)
}

function standardJson(profile: Profile) {
  const { profile: id, title, edition, scale, cutout, documents, clauses, rules } = profile
  return {
    halfbit: 1,
    profile: id,
    title,
    edition,
    scale,
    cutout,
    documents,
    clauses: Object.values(clauses),
    rules: Object.values(rules),
    serviceMode: SERVICE_STEPS,
  }
}

/** Clauses of published standards first, by their document; then rules of sound practice. */
function standardText(profile: Profile, width: number): string[] {
  const clauses = Object.values(profile.clauses)
  const published = clauses.filter((c) => c.source.status !== 'common practice')
  const practice = clauses.filter((c) => c.source.status === 'common practice')
  const lines = [
    `${profile.title}, edition ${profile.edition}, ${profile.scale} scale${profile.cutout ? ', with cut-out' : ''}`,
    profile.documents,
    '',
    ...textTable(
      [
        { head: 'clause' },
        { head: 'station keeps', wrap: 14 },
        { head: 'decoders accept', wrap: 14 },
        { head: 'source', wrap: 20 },
      ],
      published.map((c) => [
        c.id,
        senderText(c),
        rangeText(c.receiver, c.unit),
        sourceText(c.source, c.unbound),
      ]),
      width,
    ),
    '',
    'Counts and ranges',
    ...textTable(
      [
        { head: 'figure', wrap: 20 },
        { head: 'value', align: 'right' },
        { head: 'source', wrap: 20 },
      ],
      Object.values(profile.rules).map((r: Rule) => [
        r.says,
        `${formatNumber(r.value)} ${r.unit}`,
        sourceText(r.source),
      ]),
      width,
    ),
    '',
    'Service mode, packets at least (S-9.2.3:2012 E)',
    ...textTable(
      [{ head: 'step' }, ...SERVICE_MODES.map((mode) => ({ head: mode, align: 'right' as const }))],
      serviceRows(),
      width,
    ),
    '',
    ...wrapText(`Sound practice, no source: ${practice.map((c) => c.id).join(', ')}`, width, '  '),
  ]
  return lines
}

function senderText(c: Clause): string {
  const service = c.inService ? `; in service mode ${rangeText(c.inService, c.unit)}` : ''
  return `${rangeText(c.sender, c.unit) || 'as the design says'}${service}`
}

function rangeText(limits: Limits | undefined, unit: string): string {
  if (!limits) return ''
  if (limits.max === 0 && limits.min === undefined) return `no ${unit}`
  return limitsText(limits, unit)
}

function sourceText({ document, edition, section, status }: Source, unbound?: true): string {
  const named = [edition ? `${document}:${edition}` : document, section].join(' ')
  const known = status === 'confirmed' ? '' : `, ${status}`
  return `${named}${known}${unbound ? '; binds no station here, so it is never broken' : ''}`
}

function serviceRows(): string[][] {
  const rows: [string, (mode: (typeof SERVICE_MODES)[number]) => number | undefined][] = [
    ['resets before', (m) => SERVICE_STEPS[m].resets],
    ['page presets or writes', (m) => SERVICE_STEPS[m].page],
    ['recovery after those', (m) => SERVICE_STEPS[m].pageRecovery],
    ['verify', (m) => SERVICE_STEPS[m].verify],
    ['write', (m) => SERVICE_STEPS[m].write],
    ['recovery after a write', (m) => SERVICE_STEPS[m].recovery],
    ['recovery, address', (m) => SERVICE_STEPS[m].recoveryOfAddress],
  ]
  return rows.map(([step, of]) => [step, ...SERVICE_MODES.map((mode) => String(of(mode) ?? '–'))])
}
