import { AS_WRITTEN } from '../../design/index.js'
import {
  MATRIX_COLUMNS,
  type MatrixColumns,
  type MatrixInput,
  matrixHolds,
  matrixHtml,
  matrixJunit,
  matrixMarkdown,
  matrixOf,
  matrixText,
} from '../../proof/index.js'
import { InputError } from '../../units/index.js'
import type { Arguments, Command, ExitStatus, Io } from '../command.js'
import { writeWhole } from '../files/index.js'
import { PROOF_OPTIONS, proofRequest, REPORT_OPTIONS, reportsOf } from '../proof-options.js'
import { startProofThread } from '../proof-thread.js'
import { provedDesign } from '../proved-design.js'
import { readDesign } from '../read-design.js'

/** Renderers by the option that names their file. */
const FORMS = { html: matrixHtml, md: matrixMarkdown, junit: matrixJunit } as const

/** `halfbit matrix DESIGN`: the proofs of all variants. */
export const command: Command = {
  usage: ['matrix DESIGN [options]', 'matrix DESIGN --variant NAME', 'matrix DESIGN --list'],
  about: `Proves the design as written and each of its variants, and makes one table: variant by stage or clause, with the smallest
margin in each cell, what breaks where, and which variant to recommend. A cell in which anything is not shown counts as not shown,
and a recommendation that depends on it says so. Each variant's own firmware is run and its captures are read. Exit status as
with prove: 1 if a clause of any variant in the table is broken, or a required one is not shown.`,
  options: {
    variant: {
      type: 'string',
      value: 'NAME',
      multiple: true,
      help: `only this variant; may be repeated. "${AS_WRITTEN}" is the design without variants`,
    },
    by: {
      type: 'string',
      value: 'WHAT',
      choices: MATRIX_COLUMNS,
      help: 'columns of the table: stages (default) or clauses',
    },
    list: { type: 'boolean', help: 'only list the names, one per line, for the jobs of a CI system' },
    ...PROOF_OPTIONS,
    ...REPORT_OPTIONS,
  },
  takes: { min: 1, max: 1, what: 'one design file' },
  examples: [
    'halfbit matrix halfbit.yaml',
    'halfbit matrix halfbit.yaml --by clauses --html matrix.html --junit matrix.xml',
    'halfbit matrix halfbit.yaml --variant "small board" --junit small-board.xml',
  ],
  run,
}

async function run(args: Arguments, io: Io): Promise<ExitStatus> {
  const [file] = args.positionals as [string]
  const request = proofRequest(args)
  const by = columnsOf(args.text('by'))
  const base = readDesign(file, io)
  const all = [AS_WRITTEN, ...base.variants.map((v) => v.name)]
  if (args.on('list')) {
    io.out(args.on('json') ? JSON.stringify({ halfbit: 1, variants: all }, null, 2) : all.join('\n'))
    return 0
  }
  const wanted = [...new Set(args.texts('variant'))]
  const names = wanted.length > 0 ? wanted : all
  const inputs: MatrixInput[] = []
  const thread = startProofThread()
  try {
    for (const [i, name] of names.entries()) {
      if (io.signal.aborted) break
      io.progress(`${i + 1} of ${names.length}: ${name}`)
      const loaded = name === AS_WRITTEN ? base : readDesign(file, io, name)
      const suits = base.variants.find((v) => v.name === name)?.suits
      const proof = await namingVariant(name, () => provedDesign(loaded, request, io, thread))
      inputs.push({ variant: name, suits, proof })
    }
  } finally {
    thread?.close()
  }
  io.progress('')
  if (io.signal.aborted || inputs.length === 0) {
    io.note('Interrupted: no table was made.')
    return 3
  }
  const matrix = matrixOf(inputs, by)
  const read = inputs.flatMap(({ proof }) => proof.about.inputs)
  for (const [path, text] of reportsOf(matrix, FORMS, read, args)) writeWhole(path, text)
  io.out(args.on('json') ? JSON.stringify(matrix, null, 2) : matrixText(matrix, io.width).join('\n'))
  return matrixHolds(matrix) ? 0 : 1
}

/** A file that is missing or a part that contradicts itself is that of one variant. */
async function namingVariant<T>(name: string, work: () => Promise<T>): Promise<T> {
  try {
    return await work()
  } catch (error) {
    if (name === AS_WRITTEN || !(error instanceof InputError)) throw error
    throw new InputError(`variant "${name}": ${error.message}`, error.place)
  }
}

function columnsOf(text: string | undefined): MatrixColumns {
  if (text === undefined) return 'stages'
  const found = MATRIX_COLUMNS.find((c) => c === text)
  if (!found) throw new InputError(`--by ${text}; expected one of ${MATRIX_COLUMNS.join(', ')}`)
  return found
}
