/** The design file: text → checked design. */
import type { Document, LineCounter, Node } from 'yaml'
import { checkCapture } from '../capture/index.js'
import { CHIPS, commandFaults, serialPortsOf } from '../controller/index.js'
import { type BenchNotes, checkBenchNotes, namesToRead, type PartNames } from '../meter/index.js'
import { checkPower } from '../power/index.js'
import { editionsOf } from '../standard/index.js'
import { checkTrack, type TrackDesign } from '../track/index.js'
import { checkTraffic } from '../traffic/index.js'
import { formatSi, InputError, isWithoutMemory, nearest } from '../units/index.js'
import { type Aliases, aliasesOf } from './aliases.js'
import { readByParts } from './by-parts.js'
import { documentOf, entangled, inOrder, placeIn, top } from './document.js'
import { DesignError, type Path, type Problem } from './problem.js'
import { type Design, designShape, stationShape } from './schema.js'
import { type Place, Validator } from './validate.js'
import { alikeProblems, inVariant, type VariantInfo, VariantReader } from './variants.js'
import { variantsByParts } from './variants-by-parts.js'
import { asPresent, DESIGN_VERSION, isEarlier, versionOf } from './versions.js'

export interface LoadedDesign {
  design: Design
  /** The version that the file itself has; the design is always given in the present one. */
  version: number
  /** The variants that the file describes, in its order. */
  variants: readonly VariantInfo[]
  /** The variant that the design is of; absent where it is the design as written. */
  variant?: string
  /** Where a key stands in the file; of the nearest part above it that is there. */
  placeOf(path: Path): Place
}

/** Part by part costs more the first time, and next to nothing after an edit of one part. What is read is the same. */
export type Reading = 'by parts' | 'whole'

/**
 * @param variant the variant that is wanted; the design as written when left out.
 * @throws DesignError listing every problem with line and column; InputError where there is no such variant.
 */
export function loadDesign(
  text: string,
  file = 'design',
  variant?: string,
  reading: Reading = 'by parts',
): LoadedDesign {
  if (variant === undefined) {
    const {
      design,
      version = DESIGN_VERSION,
      problems,
      placeOf,
      variants = [],
    } = reading === 'whole' ? inspectWhole(text) : inspect(text)
    if (design === undefined || problems.length > 0) throw new DesignError(file, problems)
    return { design, version, placeOf, variants: variants.map(infoOf) }
  }
  const { design, version = DESIGN_VERSION, problems, variants = [] } = inspectWhole(text)
  if (design === undefined || problems.length > 0) throw new DesignError(file, problems)
  const infos = variants.map(infoOf)
  const found = variants.find((v) => v.name === variant)
  if (!found) throw unknownVariant(variant, infos, file)
  return { design: found.design, version, placeOf: found.placeOf, variants: infos, variant }
}

function infoOf({ name, suits, line }: VariantInfo): VariantInfo {
  return { name, line, ...(suits === undefined ? {} : { suits }) }
}

function unknownVariant(name: string, variants: readonly VariantInfo[], file: string): InputError {
  const names = variants.map((v) => v.name)
  const close = nearest(name, names)
  const expected = names.length > 0 ? `one of ${names.join(', ')}` : 'a design with variants'
  return new InputError(
    `there is no variant "${name}"${close === undefined ? '' : `; the nearest is "${close}"`}; expected ${expected}`,
    { file },
  )
}

/** Every problem of a design file, in the order of the file; none means it can be loaded. */
export function checkDesign(text: string): Problem[] {
  return inspect(text).problems
}

interface Inspected {
  design?: Design
  version?: number
  problems: Problem[]
  placeOf(path: Path): Place
  variants?: readonly VariantInfo[]
}

interface LoadedVariant extends VariantInfo {
  design: Design
  placeOf(path: Path): Place
}

function inspect(text: string): Inspected {
  const parts = isWithoutMemory() ? undefined : readByParts(text)
  // Problems are listed in the order of the whole file.
  const isSound = (design: Design) => acrossParts(design).length === 0
  if (parts && isSound(parts.design)) {
    const { design, placeOf, texts } = parts
    const variants = variantsByParts(texts, design, isSound)
    if (variants) return { design, placeOf, version: DESIGN_VERSION, problems: [], variants }
  }
  return inspectWhole(text)
}

function inspectWhole(text: string): Omit<Inspected, 'variants'> & { variants?: LoadedVariant[] } {
  const read = documentOf(text, { what: 'design', begins: `"halfbit: ${DESIGN_VERSION}"` })
  if ('problems' in read) return { problems: read.problems, placeOf: top }
  const { document, lines } = read
  const unreadable = wrongVersion(document, lines)
  if (unreadable) return { problems: [unreadable], placeOf: top }
  const version = versionOf(document)
  let validator: Validator
  let aliases: Aliases
  let design: Design
  try {
    if (isEarlier(version)) asPresent(document, version)
    aliases = aliasesOf(document)
    validator = new Validator(lines, aliases)
    design = stationOf(validator.read(document.contents as Node, designShape, []))
  } catch (error) {
    if (error instanceof RangeError) return { problems: [entangled()], placeOf: top }
    throw error
  }
  const placeOf = (path: Path) => placeIn(validator, path)
  if (validator.problems.length > 0) return { problems: inOrder(validator.problems), placeOf }
  const across = acrossParts(design).map((p) => ({ ...p, ...placeOf(p.path) }))
  if (across.length > 0) return { design, problems: inOrder(across), placeOf }
  try {
    const { variants, problems } = variantsOf({ document, lines, aliases }, validator, design)
    return { design, version: version!, problems: inOrder(problems), placeOf, variants }
  } catch (error) {
    if (error instanceof RangeError) return { problems: [entangled()], placeOf }
    throw error
  }
}

/** The station's own part of what a design file holds. */
function stationOf(value: unknown): Design {
  const { variants: _, ...station } = (value ?? {}) as Design & { variants?: unknown }
  return station
}

/** Each variant as a design of its own, read from the same text, and what makes it none. */
function variantsOf(
  { document, lines, aliases }: { document: Document; lines: LineCounter; aliases: Aliases },
  validator: Validator,
  base: Design,
): { variants: LoadedVariant[]; problems: Problem[] } {
  const reader = new VariantReader(document.contents as Node, lines, validator)
  const variants: LoadedVariant[] = []
  const problems: Problem[] = []
  for (const variant of reader.variants) {
    const merged = reader.merged(variant)
    if ('problems' in merged) {
      problems.push(...merged.problems)
      continue
    }
    const own = new Validator(lines, aliases)
    const design = own.read(merged.node, stationShape, []) as Design
    const placeOf = (path: Path) => placeIn(own, path)
    const found =
      own.problems.length > 0 ? own.problems : acrossParts(design).map((p) => ({ ...p, ...placeOf(p.path) }))
    problems.push(...found.map((p) => inVariant(p, variant)))
    if (found.length === 0) {
      const { name, suits, line } = variant
      variants.push({ name, line, design, placeOf, ...(suits === undefined ? {} : { suits }) })
    }
  }
  problems.push(...alikeProblems(base, variants, reader.variants))
  return { variants, problems }
}

function wrongVersion(document: Document, lines: LineCounter): Problem | undefined {
  const found = versionOf(document)
  if (found === undefined || found === DESIGN_VERSION || isEarlier(found)) return undefined
  const node = document.get('halfbit', true) as Node | undefined
  const { line, col } = lines.linePos(node?.range?.[0] ?? 0)
  const message = `this is version ${found} of the design file; this program reads versions 1 to ${DESIGN_VERSION}`
  return { path: ['halfbit'], line, column: col, message }
}

/** Problems that no single part can see. */
function acrossParts(design: Design): { path: Path; message: string }[] {
  const problems: { path: Path; message: string }[] = []
  const { profile, edition } = design.standard
  const editions = editionsOf(profile)
  if (edition !== undefined && !editions.includes(edition)) {
    const message = `profile ${profile} has no edition "${edition}"; expected one of ${editions.join(', ')}`
    problems.push({ path: ['standard', 'edition'], message })
  }
  const outputs = Object.keys(design.signal.outputs)
  design.captures?.forEach((capture, i) => {
    for (const { key, message } of checkCapture(capture))
      problems.push({ path: ['captures', i, key], message })
    if (capture.output === undefined || outputs.includes(capture.output)) return
    const close = nearest(capture.output, outputs)
    const hint = close ? `; the nearest is "${close}"` : ''
    const message = `there is no output "${capture.output}"${hint}; expected one of ${outputs.join(', ')}`
    problems.push({ path: ['captures', i, 'output'], message })
  })
  const { chip, clock } = design.controller
  const { name, maxHz } = CHIPS[chip]
  if (clock.frequency > maxHz) {
    const message = `the ${name} runs at most at ${formatSi(maxHz, 'Hz')}; found ${formatSi(clock.frequency, 'Hz')}`
    problems.push({ path: ['controller', 'clock', 'frequency'], message })
  }
  const { commands } = design.firmware ?? {}
  if (commands) {
    for (const { path, message } of commandFaults(commands))
      problems.push({ path: ['firmware', 'commands', ...path], message })
    const ports = serialPortsOf(chip)
    if (ports && !ports.includes(commands.port)) {
      const expected = ports.length === 1 ? `"port: ${ports[0]}"` : `one of ${ports.join(', ')}`
      const message = `the ${name} has no serial port ${commands.port}; expected ${expected}`
      problems.push({ path: ['firmware', 'commands', 'port'], message })
    }
  }
  const { power, signal, track, rollingStock, fleet } = design
  if (power)
    problems.push(
      ...unlessSame('power', [power, signal, chip], () =>
        checkPower(power, signal, CHIPS[chip].pins, {
          name,
          ...CHIPS[chip].converter,
        }),
      ),
    )
  if (track && problems.length === 0) {
    const districts = Object.keys(power?.districts ?? {})
    const of = [track, rollingStock, districts.join('\n')]
    problems.push(...unlessSame('track', of, () => checkTrack(track, rollingStock, districts)))
  }
  if (design.benchNotes) problems.push(...inBenchNotes(design, design.benchNotes))
  if (design.traffic && !fleet)
    problems.push({ path: ['traffic'], message: 'traffic needs a fleet: locomotives with their addresses' })
  if (fleet) {
    const of = [signal, track, rollingStock, fleet, design.traffic, design.standard, design.scale, chip]
    problems.push(...unlessSame('traffic', of, () => checkTraffic({ ...design, fleet })))
  }
  return problems
}

type Fault = { path: Path; message: string }
type Checked = { of: readonly unknown[]; faults: Fault[] }
const lastChecks = new Map<string, Checked[]>()
/** A design and its variants have so many different parts of a kind. */
const MOST_CHECKED = 16

/** What was found before, where it was of the very same parts. */
function unlessSame(name: string, of: readonly unknown[], check: () => Fault[]): Fault[] {
  const last = lastChecks.get(name) ?? []
  const known = last.find((l) => of.every((part, i) => part === l.of[i]))
  if (known) return known.faults
  const faults = check()
  lastChecks.set(name, [...last.slice(1 - MOST_CHECKED), { of, faults }])
  return faults
}

/** Slips in the notes, and names that the design does not have. */
function inBenchNotes(design: Design, notes: BenchNotes): { path: Path; message: string }[] {
  const { power, signal, rollingStock } = design
  const parts: PartNames = {
    supplies: Object.keys(power?.supplies ?? {}),
    districts: Object.keys(power?.districts ?? {}),
    outputs: Object.keys(signal.outputs),
    trains: Object.keys(rollingStock ?? {}),
  }
  const unknown = notes.readings.flatMap((r, i) => {
    const names = namesToRead(r.reading, parts)
    if (names.includes(r.of)) return []
    const close = nearest(r.of, names)
    const hint = close === undefined ? '' : `; the nearest is "${close}"`
    const message = `there is no "${r.of}" for a reading of ${r.reading}${hint}; expected one of ${names.join(', ') || 'those of a power stage, which the design lacks'}`
    return [{ path: ['readings', i, 'of'], message }]
  })
  const nowhere = design.track ? inNoPlace(design.track, notes) : []
  return [...checkBenchNotes(notes), ...unknown, ...nowhere].map(({ path, message }) => ({
    path: ['benchNotes', ...path],
    message,
  }))
}

/** Readings at a section that the track does not have. */
function inNoPlace(track: TrackDesign, { readings }: BenchNotes): { path: Path; message: string }[] {
  const sections = Object.entries(track.sections).flatMap(([name, { count }]) => [
    name,
    ...Array.from({ length: count ?? 1 }, (_, k) => `${name}.${k + 1}`),
  ])
  // What joins sections has rails of its own, each with a word behind the name.
  const joining = Object.keys({ ...track.turnouts, ...track.crossings, ...track.turntables })
  return readings.flatMap(({ at }, i) => {
    if (at === undefined || sections.includes(at)) return []
    if (joining.some((name) => at === name || (at.startsWith(name) && /^\W/.test(at.slice(name.length)))))
      return []
    const close = nearest(at, [...sections, ...joining])
    const hint = close === undefined ? '' : `; the nearest is "${close}"`
    const message = `the track has no "${at}"${hint}; expected a section, such as ${sections[0]}`
    return [{ path: ['readings', i, 'at'], message }]
  })
}
