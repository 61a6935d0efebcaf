import { checkDesign, DESIGN_VERSION, loadDesign, upgradeDesign } from '../../design/index.js'
import { formatSi } from '../../units/index.js'
import { type Arguments, type Command, type ExitStatus, type Io, VARIANT_OPTION } from '../command.js'
import { writeWhole } from '../files/index.js'
import { type DesignFile, missingFiles, readDesign, readDesignText } from '../read-design.js'

export const command: Command = {
  usage: ['check DESIGN [--upgrade] [--json]'],
  about: `Validates a design file. Every problem is reported with its line and column, what was found and what was expected.
Missing files that the design names are listed too, but do not make the design invalid.`,
  options: {
    variant: VARIANT_OPTION,
    upgrade: {
      type: 'boolean',
      help: `rewrite a design file of an earlier version as version ${DESIGN_VERSION}; comments are kept`,
    },
  },
  takes: { min: 1, max: 1, what: 'one design file' },
  examples: ['halfbit check halfbit.yaml'],
  run,
}

async function run(args: Arguments, io: Io): Promise<ExitStatus> {
  const [file] = args.positionals as [string]
  if (args.on('upgrade')) upgrade(file, io)
  if (args.on('json')) {
    const problems = checkDesign(readDesignText(file))
    const valid = problems.length === 0
    const design = valid ? readDesign(file, undefined, args.text('variant')) : undefined
    const missing = design ? missingFiles(design) : []
    const of = design?.variant === undefined ? {} : { variant: design.variant }
    const read = design ? { variants: design.variants, ...of, design: design.design } : {}
    const found = { halfbit: 1, file, valid, problems, missing, ...read }
    io.out(JSON.stringify(found, null, 2))
    return valid ? 0 : 2
  }
  const design = readDesign(file, io, args.text('variant'))
  io.out(summary(design).join('\n'))
  for (const { name, line, column, path } of missingFiles(design)) {
    io.note(`${file}:${line}:${column}: ${path.join('.')} names ${name}, which is not there yet`)
  }
  return 0
}

/** @throws DesignError before anything is written, when the file has problems. */
function upgrade(file: string, io: Io): void {
  const text = readDesignText(file)
  const next = upgradeDesign(text)
  const { version } = loadDesign(next, file)
  if (next === text) {
    io.note(`${file} is version ${version} already; nothing was changed`)
    return
  }
  const before = checkDesign(text).length === 0 ? loadDesign(text).version : DESIGN_VERSION
  writeWhole(file, next)
  io.note(
    before < DESIGN_VERSION
      ? `${file} was version ${before} and is now version ${DESIGN_VERSION}`
      : `${file} had keys by their former names; they were renamed`,
  )
}

function summary({ file, design, variants, variant }: DesignFile): string[] {
  const { controller, signal, standard } = design
  const outputs = Object.entries(signal.outputs).map(([name, t]) => `${name} (${t.mode}, ${t.pin})`)
  const parts = ['firmware', 'captures', 'power', 'track', 'rollingStock', 'fleet', 'traffic']
  const there = parts.filter((p) => Object.hasOwn(design, p))
  return [
    `${file} is valid: ${design.name}${variant === undefined ? '' : `, variant ${variant}`}`,
    `Standard  ${standard.profile}${standard.edition === undefined ? '' : ` ${standard.edition}`}, scale ${design.scale}`,
    `Chip      ${controller.chip} at ${formatSi(controller.clock.frequency, 'Hz', 9)}, ${controller.clock.source}`,
    `Outputs   ${outputs.join(', ')}`,
    ...(variants.length > 0 ? [`Variants  ${variants.map((v) => v.name).join(', ')}`] : []),
    `Parts     ${there.length > 0 ? there.join(', ') : 'none beyond controller and signal'}`,
  ]
}
