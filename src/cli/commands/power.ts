import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import { compareEditions, powerCandidates, powerPlots, powerReport } from '../../power/index.js'
import {
  agreeWithTrack,
  type Proposal,
  placeEvidence,
  powerInput,
  safeProposals,
  withProposal,
} from '../../proof/index.js'
import { InputError } from '../../units/index.js'
import { type Arguments, type Command, type ExitStatus, type Io, VARIANT_OPTION } from '../command.js'
import { makeFolder, writeWhole } from '../files/index.js'
import { powerLines } from '../power-text.js'
import { noVariant, readDesign } from '../read-design.js'

/** Conversions played per acknowledgement, unless asked otherwise: a second or two. */
const CONVERSIONS = 1_000_000

/** Builds drawn for the yield of each clause. */
const BUILDS = 2000

/** `halfbit power DESIGN`: the power stage, calculated. */
export const command: Command = {
  usage: ['power DESIGN [--compare] [--svg DIR] [--json]', 'power DESIGN --apply N'],
  about: `Calculates the power stage: track voltage against load, driver current and heat, the supply's budget, shorts and how soon
they trip, the inrush at power-up, acknowledgements, and the controller's pins and regulator. Loads come from the railroad if
the design describes it, otherwise from each district's "load".`,
  options: {
    variant: VARIANT_OPTION,
    compare: { type: 'boolean', help: 'compare the track voltage with every edition of the standards' },
    apply: {
      type: 'string',
      value: 'N',
      help: 'write proposal N into the design file; comments are kept, and no verdict gets worse, but what stays met may have less margin',
    },
    svg: { type: 'string', value: 'DIR', help: 'write the drawings into this folder' },
    seed: { type: 'string', value: 'N', help: 'seed of the simulated acknowledgements; 1 by default' },
  },
  takes: { min: 1, max: 1, what: 'one design file' },
  examples: ['halfbit power examples/exhibition/halfbit.yaml --compare --svg drawings'],
  run,
}

async function run(args: Arguments, io: Io): Promise<ExitStatus> {
  const [file] = args.positionals as [string]
  const loaded = readDesign(file, io, args.text('variant'))
  const found = powerInput(loaded)
  if (!found) {
    throw new InputError(
      'the design has no "power"; expected its supplies, drivers and districts (docs/design-file.md)',
      { file },
    )
  }
  const { input, notes } = found
  const seed = seedOf(args)
  const report = powerReport({ ...input, seed, conversions: CONVERSIONS, builds: BUILDS, faults: true })
  for (const { sentence } of notes) io.note(`halfbit: ${sentence}`)
  report.evidence = placeEvidence('power', agreeWithTrack(report.evidence, loaded), loaded, file)
  const { evidence } = report
  const text = readFileSync(file, 'utf8')
  const chosen = args.text('apply')
  if (chosen !== undefined) noVariant(loaded, `--apply ${chosen}`)
  // A proposal is tried on the design as written, of which a variant's report says nothing.
  const proposals =
    loaded.variant === undefined ? safeProposals(text, file, powerCandidates(report, input.power)) : []
  if (chosen !== undefined) return apply(chosen, text, file, proposals, io)
  const folder = args.text('svg')
  if (folder !== undefined) {
    makeFolder(folder)
    const plots = powerPlots(report, input.profile)
    for (const p of plots) writeWhole(join(folder, `${p.name}.svg`), p.svg)
    io.note(`Wrote ${plots.length} ${plots.length === 1 ? 'drawing' : 'drawings'} into ${folder}.`)
  }
  if (args.on('json')) {
    const { profile, edition, scale } = input.profile
    const editions = compareEditions(report.districts, scale)
    // JSON has no infinity: null stands for without limit, or never.
    const object = {
      halfbit: 1,
      file,
      name: loaded.design.name,
      profile,
      edition,
      scale,
      seed,
      ...report,
      evidence,
      proposals,
      notes,
    }
    io.out(JSON.stringify(args.on('compare') ? { ...object, editions } : object, null, 2))
  } else io.out(powerLines(report, input.profile, io.width, args.on('compare'), proposals).join('\n'))
  return evidence.some((e) => e.verdict === 'broken') ? 1 : 0
}

/** Make one proposal in the design file. */
function apply(
  chosen: string,
  text: string,
  file: string,
  proposals: readonly Proposal[],
  io: Io,
): ExitStatus {
  const proposal = /^[1-9]\d{0,2}$/.test(chosen) ? proposals[Number(chosen) - 1] : undefined
  if (!proposal) {
    const there =
      proposals.length === 0
        ? 'expected the number of a proposal, and there is none for this design'
        : `expected 1 to ${proposals.length}`
    throw new InputError(`--apply ${chosen}; ${there}`)
  }
  writeWhole(file, withProposal(text, proposal))
  const { finding, clause, about, before, after } = proposal
  const verdicts = before === after ? `stays ${after}` : `was ${before} and is ${after}`
  io.out(`${finding.sentence}: ${clause}, ${about} ${verdicts}.`)
  return 0
}

function seedOf(args: Arguments): number {
  const text = args.text('seed')
  if (text === undefined) return 1
  if (!/^\d{1,9}$/.test(text))
    throw new InputError(`--seed ${text}; expected a whole number from 0 to 999999999`)
  return Number(text)
}
