import {
  type Proof,
  proofHolds,
  proofHtml,
  proofJunit,
  proofMarkdown,
  proofText,
  readBaseline,
  type Since,
  sinceBaseline,
} from '../../proof/index.js'
import { buildOf } from '../capture-evidence.js'
import {
  type Arguments,
  type Command,
  type ExitStatus,
  type Io,
  TRANSLATE_OPTION,
  VARIANT_OPTION,
} from '../command.js'
import { displayPath } from '../display-path.js'
import { sha256 } from '../file-sum.js'
import { readUpTo, writeWhole } from '../files/index.js'
import { PROOF_OPTIONS, proofRequest, REPORT_OPTIONS, reportsOf } from '../proof-options.js'
import { startProofThread } from '../proof-thread.js'
import { provedDesign } from '../proved-design.js'
import { readDesign } from '../read-design.js'

/** Renderers by the option that names their file. */
const FORMS = { html: proofHtml, md: proofMarkdown, junit: proofJunit, accept: acceptedJson } as const

/** The proof as a later one is compared with it. */
function acceptedJson({ since: _, ...proof }: Proof): string {
  return `${JSON.stringify(proof, null, 2)}\n`
}

/** A proof of hundreds of clauses is a megabyte. */
const LARGEST_BASELINE_BYTES = 32 << 20

/** `halfbit prove DESIGN`: all of it, clause by clause. */
export const command: Command = {
  usage: ['prove DESIGN [options]'],
  about: `Calculates the design, runs its firmware on the simulated controller, reads its captures, and says for every clause
what each of the three shows. A clause that none of them shows is "not shown", never met. Status 0: nothing was shown to be broken
(what is undecided or not shown is counted and listed); 1: something is broken, something required is not shown, or something is
worse than in the accepted proof.`,
  options: {
    variant: VARIANT_OPTION,
    firmware: { type: 'string', value: 'FILE', help: "HEX or ELF to run in place of the design's" },
    stimulus: { type: 'string', value: 'FILE', help: "script to play in place of the design's" },
    capture: {
      type: 'string',
      value: 'FILE',
      multiple: true,
      help: "capture to read in place of the design's; OUTPUT=FILE if there are several outputs; may be repeated",
    },
    build: {
      type: 'string',
      value: 'SHA256|FILE',
      help: 'firmware build with which the captures named here were taken: digits of its SHA-256, or the firmware file',
    },
    baseline: {
      type: 'string',
      value: 'FILE',
      help: 'JSON of an accepted proof ("--accept"): say what got better or worse since; worse, or no longer shown, is status 1',
    },
    accept: {
      type: 'string',
      value: 'FILE',
      writes: true,
      help: 'write the proof as JSON, for --baseline later',
    },
    reasons: { type: 'boolean', help: 'print the reason for every statement, even for those that are met' },
    translate: TRANSLATE_OPTION,
    ...PROOF_OPTIONS,
    ...REPORT_OPTIONS,
  },
  takes: { min: 1, max: 1, what: 'one design file' },
  examples: [
    'halfbit prove halfbit.yaml',
    'halfbit prove halfbit.yaml --capture main=scope.csv --capture service=probe.vcd',
    'halfbit prove halfbit.yaml --require simulated',
    'halfbit prove halfbit.yaml --variant "small board" --baseline accepted.json',
    'halfbit prove halfbit.yaml --firmware build/station.elf --html proof.html --junit proof.xml',
  ],
  run,
}

async function run(args: Arguments, io: Io): Promise<ExitStatus> {
  const [file] = args.positionals as [string]
  const request = {
    ...proofRequest(args),
    firmware: args.text('firmware'),
    stimulus: args.text('stimulus'),
    translate: args.on('translate'),
    captures: args.texts('capture'),
    build: buildOf(args.text('build')),
  }
  const thread = startProofThread()
  let proof: Proof
  try {
    proof = await provedDesign(readDesign(file, io, args.text('variant')), request, io, thread)
  } finally {
    thread?.close()
  }
  const accepted = args.text('baseline')
  if (accepted !== undefined) proof.since = sinceAccepted(accepted, proof)
  const inputs = [
    ...proof.about.inputs,
    ...(accepted === undefined ? [] : [{ file: accepted, role: 'accepted proof' }]),
  ]
  const reports = reportsOf(proof, FORMS, inputs, args)
  if (!io.signal.aborted) for (const [path, text] of reports) writeWhole(path, text)
  else for (const [path] of reports) io.note(`interrupted: ${path} was not written`)
  const style = { width: io.width, colour: io.colour, reasons: args.on('reasons') }
  io.out(
    args.on('json')
      ? JSON.stringify(proof, null, 2)
      : [...proofText(proof, style), ...benchHint(proof, args)].join('\n'),
  )
  return proofHolds(proof) ? 0 : 1
}

/** What would show the behaviour of firmware that was run without commands. */
function benchHint({ behaviour, about }: Proof, args: Arguments): string[] {
  if (behaviour !== 'not shown' || args.on('bench') || !about.inputs.some((i) => i.role === 'firmware'))
    return []
  return ['To see what the firmware does with commands and shorts, add "--bench".']
}

/** @throws InputError where the file is no accepted proof of this design. */
function sinceAccepted(file: string, proof: Proof): Since {
  const bytes = readUpTo(file, LARGEST_BASELINE_BYTES, 'the JSON of an accepted proof')
  const source = { file: displayPath(file), sha256: sha256(bytes) }
  const accepted = readBaseline(new TextDecoder().decode(bytes), source, proof)
  // As JSON has it, so that both have lost the same digits and infinities.
  return sinceBaseline(accepted, readBaseline(JSON.stringify(proof), source, proof), source)
}
