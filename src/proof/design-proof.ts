/**
 * The proof of a design: what it shows by itself, and what runs and captures show of it. What is of another build of the
 * firmware, of an output that is gone or of the design before it was changed is told, and counts for nothing.
 */
import { CHIPS, type ChipId, isSimulated, SIMULATED_CHIPS } from '../controller/index.js'
import { type LoadedDesign, profileOfDesign } from '../design/index.js'
import type { Finding } from '../finding/index.js'
import { allStages } from '../power/index.js'
import {
  CLAUSE_FACTS,
  type ClauseId,
  isShown,
  notShown,
  type Origin,
  type Statement,
} from '../standard/index.js'
import { InputError } from '../units/index.js'
import { dependsOn } from './depends-on.js'
import type { DesignEvidence } from './design-evidence.js'
import { disagreements } from './disagreement.js'
import type { RunEvidence } from './evidence-set.js'
import { distinct, PROOF_FINDINGS } from './findings.data.js'
import { type Proof, prove, type Requirement } from './proof.js'
import type { StationParts } from './subjects.js'
import { verdictWord } from './words.js'

const { find } = PROOF_FINDINGS

export interface DesignProof {
  /** What the design alone shows. */
  calculated: DesignEvidence
  runs: readonly RunEvidence[]
  /** SHA-256 of the firmware that the proof is for, where it was read but not run. */
  firmware?: string | undefined
  version: string
  date?: string | undefined
  /** Origins that must show whatever they can. */
  require?: readonly Requirement[]
  /** Stopped before everything was run and read. */
  interrupted?: boolean
}

export function proofOfDesign(loaded: LoadedDesign, given: DesignProof): Proof {
  const { design } = loaded
  const { calculated, version, date, require = [], interrupted = false } = given
  const parts = partsOf(loaded, given.runs)
  const outputs = Object.entries(design.signal.outputs).map(([name, { mode, cutout }]) => {
    return { name, mode, cutout }
  })
  const ran = given.runs.find((r) => r.kind === 'run' && r.dependsOn === dependsOn(design, 'run'))
  const firmware = given.firmware ?? ran?.build
  const taken = given.runs.map((run) => counting(run, loaded, firmware))
  const shown = taken.flatMap((t) => t.statements)
  const notes = [
    ...calculated.notes,
    ...taken.flatMap((t) => t.notes),
    ...disagreements(calculated.statements, shown),
  ]
  if (interrupted) notes.push(find('interrupted', {}))
  const proof = prove(
    [...calculated.statements, ...shown],
    profileOfDesign(loaded),
    {
      name: design.name,
      ...(loaded.variant === undefined ? {} : { variant: loaded.variant }),
      outputs,
      inputs: [...calculated.inputs, ...taken.flatMap((t) => t.inputs)],
      version,
      notes: distinct(notes),
      cautions: calculated.cautions,
      ...(date === undefined ? {} : { date }),
    },
    { parts, reason: reasonsOf(loaded, given), require },
  )
  if (!calculated.complete) proof.stale = { since: [find('calculation-pending', {})] }
  return proof
}

/** What of a run or a capture counts for this design and this firmware. */
function counting(
  run: RunEvidence,
  { design }: LoadedDesign,
  firmware: string | undefined,
): Pick<RunEvidence, 'statements' | 'notes' | 'inputs'> {
  const file = run.inputs.map((i) => i.file).join(' with ')
  if (run.dependsOn !== dependsOn(design, run.kind)) {
    const why = find(run.kind === 'run' ? 'run-outdated' : 'capture-outdated', { file })
    return { statements: silenced(run.statements, () => why), notes: [why], inputs: [] }
  }
  const [gone] = run.outputs.filter((name) => !Object.hasOwn(design.signal.outputs, name))
  if (gone !== undefined)
    return { statements: [], notes: [find('output-gone', { file, output: gone })], inputs: [] }
  if (run.kind === 'run') return run
  if (run.withoutFirmware) {
    const why = find('shown-without-firmware', { file })
    return { statements: silenced(run.statements, () => why), notes: [why], inputs: run.inputs }
  }
  const { build } = run
  if (design.firmware === undefined && firmware === undefined) return run
  if (build === undefined) return { ...run, notes: [...run.notes, find('build-unknown', { file })] }
  if (firmware === undefined)
    return { ...run, notes: [...run.notes, find('build-unchecked', { file, build })] }
  if (isBuild(build, firmware)) return run
  const statements = silenced(run.statements, (e) =>
    find('shown-by-other-build', {
      file,
      build,
      verdict: isShown(e) ? verdictWord(e.verdict) : e.verdict,
      why: e.because,
    }),
  )
  return {
    statements,
    notes: [...run.notes, find('capture-of-other-build', { file, build, firmware })],
    inputs: run.inputs,
  }
}

/** @param named a sum or its first digits. */
export function isBuild(named: string, sha256: string): boolean {
  return sha256.toLowerCase().startsWith(named.toLowerCase())
}

function silenced(statements: readonly Statement[], why: (e: Statement) => Finding): Statement[] {
  return statements.map((e) => notShown(e.clause, e.origin, why(e), { about: e.about, where: e.where }))
}

function partsOf(loaded: LoadedDesign, runs: readonly RunEvidence[]): StationParts {
  const { power, controller, firmware } = loaded.design
  const parts: StationParts = {
    firmware: firmware !== undefined || runs.some((r) => r.kind === 'run') || isSimulated(controller.chip),
  }
  if (!power) return parts
  const named = (of: object) => Object.keys(of).map((name) => ({ name }))
  return {
    ...parts,
    districts: districtsOf(loaded) ?? named(power.districts),
    drivers: named(power.drivers),
    supplies: named(power.supplies),
  }
}

/** Districts with the mode of the output they repeat; `undefined` where the power stage cannot be put together. */
function districtsOf({ design: { power, signal } }: LoadedDesign) {
  if (!power) return undefined
  try {
    return allStages(power, signal).map(({ name, output, district }) => {
      const { mode, cutout } = (output !== undefined && signal.outputs[output]) || {}
      return { name, mode, cutout, sense: district.sense !== undefined }
    })
  } catch (error) {
    if (!(error instanceof InputError)) throw error
    return undefined
  }
}

/** Parts of the design that a clause is calculated from, by what it concerns. */
const PART_OF: Partial<Record<(typeof CLAUSE_FACTS)[ClauseId]['stage'], 'power' | 'track' | 'fleet'>> = {
  driver: 'power',
  track: 'track',
  trains: 'fleet',
}
const PART_WORDS = { power: 'power stage', track: 'track', fleet: 'fleet' } as const

/** Why nothing is shown of a clause where no statement says so. */
function reasonsOf(loaded: LoadedDesign, { calculated, runs }: DesignProof) {
  const { design } = loaded
  const current = (kind: RunEvidence['kind']) =>
    runs.filter((r) => r.kind === kind && r.dependsOn === dependsOn(design, kind))
  const { controller, firmware, captures = [], signal } = design
  return (clause: ClauseId, origin: Origin, about: string | undefined): Finding => {
    if (origin === 'calculated') {
      if (calculated.fault) return calculated.fault
      if (!calculated.complete) return find('calculation-pending', {})
      const part = PART_OF[CLAUSE_FACTS[clause].stage]
      return part !== undefined && design[part] === undefined
        ? find('no-part', { part: PART_WORDS[part] })
        : find('not-calculated', {})
    }
    if (origin === 'simulated') {
      const [run] = current('run')
      if (run) return find('run-shows-nothing', { source: run.source })
      if (!isSimulated(controller.chip)) return chipNotSimulated(controller.chip)
      return firmware === undefined ? find('no-firmware', {}) : find('not-run', { file: firmware.file })
    }
    const isOutput = about !== undefined && Object.hasOwn(signal.outputs, about)
    const read = current('capture').filter((r) => !isOutput || r.outputs.includes(about))
    if (read.length > 0)
      return find('capture-shows-nothing', { source: read.map((r) => r.source).join(' and ') })
    const listed = captures.filter((c) => !isOutput || c.output === undefined || c.output === about)
    const unread = listed.map((c) => c.file)
    if (unread.length > 0 && runs.every((r) => r.kind !== 'capture'))
      return find('not-read', { files: unread })
    return find('no-capture', isOutput ? { of: about } : {})
  }
}

/** Why no firmware is run on a chip. */
export function chipNotSimulated(chip: ChipId): Finding {
  const simulated = SIMULATED_CHIPS.map((id) => CHIPS[id].name)
  return find('chip-not-simulated', { chip: CHIPS[chip].name, simulated })
}
