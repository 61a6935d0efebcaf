import { join } from 'node:path'
import { loadDesign } from '../../design/index.js'
import { evidenceOfDesign, proofOfDesign } from '../../proof/index.js'
import {
  AnswerError,
  type Given,
  QUESTIONS,
  type QuestionId,
  type Started,
  startDesign,
} from '../../start/index.js'
import { InputError } from '../../units/index.js'
import { askForDesign, talkOver } from '../ask.js'
import type { Arguments, Command, ExitStatus, Io } from '../command.js'
import { inShell } from '../in-shell.js'
import { exampleFiles, exampleNames, type NewFiles, writeNewFolder } from '../new-design.js'

/** The option of a question, where it is not its id. */
const OPTION: Partial<Record<QuestionId, string>> = { drivenBy: 'driven-by' }
const optionOf = (id: QuestionId) => OPTION[id] ?? id

export const command: Command = {
  usage: ['new [DIR] [options]', 'new [DIR] --ask', 'new [DIR] --example NAME'],
  about: `Writes a commented design file, halfbit.yaml, into a folder (the current one by default), with every part filled in and
every calculated clause met; or copies an example with its firmware. On a terminal it asks what you have, unless options say it.
If no design works with the answers, it says why and names the nearest ones that work. No existing file is replaced; either all
files are written or none.`,
  options: {
    ask: { type: 'boolean', help: 'ask what no option answers; the default on a terminal' },
    example: {
      type: 'string',
      value: 'NAME',
      choices: exampleNames(),
      help: `copy an example: ${exampleNames().join(', ')}`,
    },
    ...Object.fromEntries(
      QUESTIONS.map((q) => [
        optionOf(q.id),
        {
          type: 'string' as const,
          value: placeholderOf(q),
          ...(q.kind === 'choice' ? { choices: q.choices!({}).map((c) => c.value) } : {}),
          help: helpOf(q),
        },
      ]),
    ),
  },
  takes: { min: 0, max: 1, what: 'at most one folder' },
  examples: [
    'halfbit new',
    "halfbit new station --chip atmega2560 --scale N --shape shelf --trains '2 railcar, 1 shunter'",
    'halfbit new demo --example exhibition',
  ],
  run,
}

function placeholderOf(q: (typeof QUESTIONS)[number]): string {
  return {
    choice: 'CHOICE',
    quantity: (q.dimension ?? '').toUpperCase(),
    whole: 'N',
    text: 'TEXT',
    counts: 'LIST',
  }[q.kind]
}

function helpOf(q: (typeof QUESTIONS)[number]): string {
  const choices = q.choices?.({}).map((c) => c.value) ?? []
  // What fits depends on other answers: the default is of the usual ones.
  const usual = q.usual({})
  const ends = usual === '' ? '' : ` (${usual})`
  if (q.kind === 'counts') return `as "2 local, 1 shunter", of ${choices.join(', ')}${ends}`
  if (choices.length > 0) return `${q.asks}: ${choices.join(', ')}${ends}`
  return `${q.asks}${ends}: ${q.help.charAt(0).toLowerCase()}${q.help.slice(1).replace(/\.$/, '')}`
}

async function run(args: Arguments, io: Io): Promise<ExitStatus> {
  const folder = args.positionals[0] ?? '.'
  const example = args.text('example')
  const made = example === undefined ? await ownDesign(args, io) : undefined
  const files: NewFiles = made ? new Map([['halfbit.yaml', made.text]]) : exampleOf(args, example!)
  writeNewFolder(folder, files)
  const design = join(folder, 'halfbit.yaml')
  if (args.on('json')) {
    const answers = made ? { answers: made.answers, shown: countsOf(made) } : {}
    io.out(
      JSON.stringify({ halfbit: 1, folder, design, files: [...files.keys()].sort(), ...answers }, null, 2),
    )
    return 0
  }
  io.out(`${files.size} file${files.size === 1 ? '' : 's'} written; the design is ${design}`)
  if (made) {
    const { met, notShown } = countsOf(made)
    io.out(`Calculated: ${met} met, none broken; ${notShown} more need a run of firmware or a measurement`)
  }
  io.out(
    `Next: halfbit check ${inShell(design)}, then halfbit open ${inShell(design)}, then halfbit prove ${inShell(design)}`,
  )
  return 0
}

/** What calculation shows of it. */
function countsOf({ text }: Started): { met: number; notShown: number } {
  const loaded = loadDesign(text, 'halfbit.yaml')
  const calculated = evidenceOfDesign(loaded, { file: 'halfbit.yaml' })
  const { rows } = proofOfDesign(loaded, { calculated, runs: [], version: '', require: [] })
  const count = (verdict: string) => rows.filter((row) => row.verdict === verdict).length
  return { met: count('met'), notShown: count('not shown') }
}

function exampleOf(args: Arguments, name: string): NewFiles {
  if (args.on('ask')) throw new InputError('--example and --ask do not go together: an example has its own')
  for (const q of QUESTIONS) {
    if (args.text(optionOf(q.id)) !== undefined) {
      throw new InputError(`--example and --${optionOf(q.id)} do not go together: an example has its own`)
    }
  }
  return exampleFiles(name)
}

async function ownDesign(args: Arguments, io: Io): Promise<Started> {
  const given: Given = Object.fromEntries(
    QUESTIONS.flatMap((q) => {
      const text = args.text(optionOf(q.id))
      return text === undefined ? [] : [[q.id, text]]
    }),
  )
  const isTerminal = process.stdin.isTTY === true && process.stderr.isTTY === true
  const asks = args.on('ask') || (isTerminal && !args.on('json') && Object.keys(given).length === 0)
  try {
    if (asks) {
      const talk = talkOver(process.stdin, process.stderr, io.signal)
      try {
        return await askForDesign(given, talk)
      } finally {
        talk.close()
      }
    }
    const result = startDesign(given)
    if ('started' in result) return result.started
    const { question, because, nearest } = result.refused
    const at = question === undefined ? '' : `--${optionOf(question)}: `
    throw new InputError(
      `${at}no design works with these answers: ${because.sentence}${nearest ? `; ${nearest.finding.sentence}` : ''}`,
    )
  } catch (error) {
    if (error instanceof AnswerError) throw new InputError(`--${optionOf(error.question)}: ${error.message}`)
    throw error
  }
}
