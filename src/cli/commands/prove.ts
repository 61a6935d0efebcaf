import { readFileSync } from 'node:fs'
import {
  type Proof,
  type ProofInput,
  proofHtml,
  proofJunit,
  proofMarkdown,
  proofText,
  prove,
} from '../../proof/index.js'
import type { Evidence } from '../../standard/index.js'
import { InputError, parseQuantity } from '../../units/index.js'
import type { Arguments, Command, ExitStatus, Io } from '../command.js'
import { writeWhole } from '../files.js'
import { calculated, hashOf, shown, simulated } from '../gather.js'
import { profileOfDesign, readDesign } from '../read-design.js'

/** `halfbit prove DESIGN`: all of it, clause by clause. */
export const command: Command = {
  usage: [
    'prove DESIGN [--firmware FILE] [--capture FILE]… [--for TIME] [--html FILE] [--md FILE] [--junit FILE]',
  ],
  about: `Calculates the design, runs its firmware on the simulated controller, reads its captures, and says of every clause
what each of the three shows. What none shows is "not shown", never met.`,
  options: {
    firmware: { type: 'string', value: 'FILE', help: "HEX or ELF to run instead of the design's" },
    capture: {
      type: 'string',
      value: 'FILE',
      multiple: true,
      help: "capture to read beside the design's; may be repeated",
    },
    for: { type: 'string', value: 'TIME', help: "simulated time instead of the design's" },
    html: { type: 'string', value: 'FILE', help: 'write the proof as one HTML file' },
    md: { type: 'string', value: 'FILE', help: 'write it as Markdown' },
    junit: { type: 'string', value: 'FILE', help: 'write it as JUnit XML' },
  },
  takes: { min: 1, max: 1, what: 'one design file' },
  examples: ['halfbit prove examples/exhibition/halfbit.yaml --html proof.html'],
  run,
}

async function run(args: Arguments, io: Io): Promise<ExitStatus> {
  const [file] = args.positionals as [string]
  const loaded = readDesign(file)
  const { design } = loaded
  const evidence: Evidence[] = calculated(loaded, shown(file))
  const inputs: ProofInput[] = [{ role: 'design', file: shown(file), sha256: hashOf(file) }]
  const notes: string[] = []
  const run = await simulated(
    loaded,
    file,
    { firmware: args.text('firmware'), forUs: simulatedTime(args) },
    io,
  )
  evidence.push(...run.evidence)
  inputs.push(...run.inputs.map((input) => ({ ...input, file: shown(input.file) })))
  notes.push(...run.notes)
  const outputs = Object.entries(design.signal.tracks).map(([name, { mode, cutout }]) => ({
    name,
    mode,
    cutout,
  }))
  const cutout = outputs.some((o) => o.cutout)
  const proof = prove(evidence, profileOfDesign(loaded, cutout), {
    name: design.name,
    outputs,
    inputs,
    version: JSON.parse(readFileSync(new URL('../../../package.json', import.meta.url), 'utf8')).version,
    notes: run.interrupted ? [...notes, 'interrupted: this shows what was seen until then'] : notes,
  })
  writeReports(proof, args)
  if (args.on('json')) io.out(JSON.stringify(proof, null, 2))
  else io.out(proofText(proof, { width: io.width, colour: io.colour }).join('\n'))
  return proof.verdict === 'broken' ? 1 : 0
}

function writeReports(proof: Proof, args: Arguments): void {
  const forms = { html: proofHtml, md: proofMarkdown, junit: proofJunit } as const
  for (const [name, render] of Object.entries(forms)) {
    const path = args.text(name)
    if (path !== undefined) writeWhole(path, render(proof))
  }
}

function simulatedTime(args: Arguments): number | undefined {
  const text = args.text('for')
  if (text === undefined) return undefined
  const parsed = parseQuantity(text, 'time')
  if (!parsed.ok) throw new InputError(`--for ${text}; expected ${parsed.expected}`)
  if (parsed.value < 1000 || parsed.value > 24 * 3600e6)
    throw new InputError(`--for ${text}; expected 1 ms to 24 h`)
  return parsed.value
}
