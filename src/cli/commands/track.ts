import { join } from 'node:path'
import { wrapText } from '../../plot/index.js'
import { agreeWithPower, placeEvidence, railroadOf } from '../../proof/index.js'
import {
  adviceSteps,
  confirmDistrict,
  confirmRingingAt,
  DesignConflict,
  dcNetlist,
  fileName,
  judgeTrack,
  limitsOf,
  loadsOf,
  modelSteps,
  type OneFault,
  oneFaultSteps,
  type RingingAt,
  type RingingPlace,
  reportSteps,
  ringCircuit,
  ringingAt,
  ringingDrawing,
  ringNetlist,
  SpiceUnavailable,
  type TrackInput,
  type TrackModel,
  type TrackReport,
  trackDrawings,
  windowUs,
} from '../../track/index.js'
import { InputError, parseQuantity } from '../../units/index.js'
import { applyAdvice } from '../apply-advice.js'
import { type Arguments, type Command, type ExitStatus, type Io, VARIANT_OPTION } from '../command.js'
import { evidenceLines } from '../evidence-text.js'
import { makeFolder, writeWhole } from '../files/index.js'
import { type DesignFile, noVariant, readDesign } from '../read-design.js'
import { runSpice } from '../spice.js'
import { stepwise } from '../stepwise.js'
import { adviceText, type TextOptions, trackText } from '../track-text.js'

/** Places of the rails beyond which proposals take minutes. */
const LARGE = 40_000

export const command: Command = {
  usage: ['track DESIGN [options]'],
  about: `Solves the network of rails and wires that the design describes: voltage at every place with the trains as parked and in the
worst-case arrangement, the short-circuit current at every place and joint, what one fault would do, whether a rail meets the opposite
polarity, how edges ring on the bus, and what to change.`,
  options: {
    variant: VARIANT_OPTION,
    svg: { type: 'string', value: 'DIR', help: 'write maps and curves as SVG into this folder' },
    netlist: {
      type: 'string',
      value: 'FILE.cir',
      help: 'write the network as a SPICE netlist, and beside it one for the edges of each district',
    },
    spice: {
      type: 'boolean',
      help: 'confirm the edges with the SPICE engine (an extra: npm install eecircuit-engine)',
    },
    'ringing-at': {
      type: 'string',
      value: 'SECTION',
      help: 'also show how an edge rings at this place, main.3 or main.3@250 mm',
    },
    fault: {
      type: 'string',
      value: 'ID',
      help: 'report everything with one fault: open-feeder:NAME, bad-joiner:NAME or swapped-feeder:NAME, one wire or rail by /A or /left',
    },
    apply: {
      type: 'string',
      value: 'N',
      help: 'write proposal number N into the design file; comments are kept, and no verdict gets worse, but what stays met may have less margin',
    },
    all: { type: 'boolean', help: 'every row of every table' },
    quick: { type: 'boolean', help: 'leave out proposals and the search for the best end of the bus' },
  },
  takes: { min: 1, max: 1, what: 'one design file' },
  examples: [
    'halfbit track halfbit.yaml',
    'halfbit track halfbit.yaml --svg maps --netlist track.cir',
    'halfbit track halfbit.yaml --fault open-feeder:main.3 --svg maps',
    'halfbit track halfbit.yaml --apply 1',
    "halfbit track halfbit.yaml --ringing-at 'main.3@250 mm' --spice",
  ],
  run,
}

async function run(args: Arguments, io: Io): Promise<ExitStatus> {
  const [file] = args.positionals as [string]
  const loaded = readDesign(file, io, args.text('variant'))
  const input = inputOf(loaded)
  let model = await modelOf(input, loaded, io)
  if (!model) return interrupted(io)
  const quick = args.on('quick')
  const place = placeOption(args)
  const id = args.text('fault')
  const fault = id === undefined ? undefined : await faultOf(model, input, id, quick, loaded, io)
  if (fault) model = fault.model
  let at = place && ringingOf(model, place, !quick)
  const report =
    id === undefined ? await stepwise(reportSteps(model, input, { terminator: !quick }), io) : fault?.report
  if (!report) return interrupted(io)
  if (args.on('spice')) at = await confirm(model, input, report, at, io)
  // With a fault it is another railroad than the one that the power stage is judged with.
  const evidence = fault ? report.evidence : agreeWithPower(report.evidence, loaded)
  report.evidence = placeEvidence('track', evidence, loaded, file)
  const large = model.net.places.length > LARGE
  const wanted = !(quick || large || fault)
  const number = args.text('apply')
  if (number !== undefined) noVariant(loaded, `--apply ${number}`)
  if (number !== undefined && !wanted)
    throw new InputError(
      large
        ? `--apply ${number}; expected a railroad small enough for proposals`
        : `--apply ${number}; expected no ${quick ? '--quick' : '--fault'} beside it, which leaves the proposals out`,
    )
  const json = args.on('json')
  const shape = { width: io.width, all: args.on('all') }
  io.progress('')
  if (!json) io.out(reportText(report, { ...shape, ...(at ? { at } : {}), ...(fault ? { fault } : {}) }, io))
  const svg = args.text('svg')
  if (svg !== undefined) writeDrawings(svg, model, report, at, io)
  const netlist = args.text('netlist')
  if (netlist !== undefined) writeNetlists(netlist, model, at, io)
  if (large && !quick) io.note('Proposals are left out: the railroad is too large to solve it a dozen times.')
  // They take longest, so everything else is said before them.
  const advice = wanted ? await stepwise(adviceSteps(model, input), io) : undefined
  io.progress('')
  if (wanted && !advice) io.note('Interrupted: proposals are left out.')
  if (advice && number !== undefined) applyAdvice(number, advice, model, loaded, io)
  if (json) {
    const { circuit: _, netlist: __, ...there } = at ?? {}
    io.out(
      JSON.stringify({
        halfbit: 1,
        design: file,
        ...(fault
          ? { fault: { id: fault.id, kind: fault.kind, words: fault.words, without: fault.without } }
          : {}),
        ...jsonOf(report, loaded.placeOf),
        advice,
        ...(at ? { ringingAt: there } : {}),
      }),
    )
  } else if (advice) io.out(['', ...adviceText(advice, shape)].join('\n'))
  return report.evidence.some((e) => e.verdict === 'broken') ? 1 : 0
}

function reportText(report: TrackReport, options: TextOptions, io: Io): string {
  return [
    ...trackText(report, options),
    ...evidenceLines(report.evidence, io.width),
    '',
    ...report.cautions.flatMap((c) => wrapText(`! ${c}`, io.width, '  ')),
  ].join('\n')
}

function interrupted(io: Io): ExitStatus {
  io.progress('')
  io.note('Interrupted before anything was calculated to the end.')
  return 3
}

async function modelOf(input: TrackInput, loaded: DesignFile, io: Io): Promise<TrackModel | undefined> {
  try {
    return await stepwise(modelSteps(input), io)
  } catch (error) {
    if (error instanceof DesignConflict)
      throw new InputError(error.message, { file: loaded.file, ...loaded.placeOf(error.path) })
    throw error
  }
}

/** The report with one fault; what makes it impossible, such as two districts joined, is told with the fault. */
async function faultOf(
  model: TrackModel,
  input: TrackInput,
  id: string,
  quick: boolean,
  { file }: DesignFile,
  io: Io,
): Promise<OneFault | undefined> {
  try {
    return await stepwise(oneFaultSteps(model, input, id, { terminator: !quick }), io)
  } catch (error) {
    if (error instanceof DesignConflict)
      throw new InputError(`with the fault ${id}: ${error.message}`, { file })
    if (error instanceof InputError) throw new InputError(`--fault ${id}: ${error.message}`)
    throw error
  }
}

function inputOf(loaded: DesignFile): TrackInput {
  const { design, file } = loaded
  if (!design.track)
    throw new InputError('there is no "track" in this design; expected bus, sections and feeders', { file })
  if (!design.power)
    throw new InputError('there is no "power" in this design; the track needs its power districts', { file })
  return railroadOf(loaded)!.input
}

/** The report with the line of every finding in the file. */
function jsonOf(
  report: TrackReport,
  placeOf: (path: (string | number)[]) => { line: number; column: number },
) {
  return {
    ...report,
    findings: report.findings.map((f) => (f.path ? { ...f, ...placeOf([...f.path]) } : f)),
  }
}

/** The same edges by SPICE, in place of the ladder's; what cannot be confirmed stays as it was. */
async function confirm(
  model: TrackModel,
  input: TrackInput,
  report: TrackReport,
  at: RingingAt | undefined,
  io: Io,
): Promise<RingingAt | undefined> {
  const spice = async (netlist: string) => runSpice(netlist, { signal: io.signal })
  const bySpice = async <T>(what: string, had: T, work: () => Promise<T>): Promise<T> => {
    io.progress(`SPICE: edges of ${what} …`)
    try {
      return await work()
    } catch (error) {
      if (!(error instanceof SpiceUnavailable)) throw error
      io.note(`Edges of ${what}: not confirmed by SPICE: ${error.message}.`)
      return had
    }
  }
  const ringing = report.ringing
  for (const [i, had] of ringing?.districts.entries() ?? []) {
    const c = ringCircuit(model.plan, model.net, model.net.districts.indexOf(had.district))
    if (c)
      ringing!.districts[i] = await bySpice(`district ${had.district}`, had, () =>
        confirmDistrict(c, had, spice),
      )
  }
  report.evidence = judgeTrack(report, limitsOf(input.track), input.profile)
  return at && bySpice(at.place, at, () => confirmRingingAt(at, spice))
}

/** `main.3` or `main.3@250 mm`. */
function placeOption(args: Arguments): RingingPlace | undefined {
  const text = args.text('ringing-at')
  if (text === undefined) return undefined
  const [, section, , at] = /^([^@]*)(@(.*))?$/s.exec(text)!
  if (at === undefined) return { section: section!.trim() }
  const parsed = parseQuantity(at, 'length')
  if (!parsed.ok) throw new InputError(`--ringing-at ${text}; expected after "@" ${parsed.expected}`)
  return { section: section!.trim(), atMm: parsed.value }
}

function ringingOf(model: TrackModel, place: RingingPlace, search: boolean): RingingAt {
  let found: RingingAt | undefined
  try {
    found = ringingAt(model, place, { search })
  } catch (error) {
    if (error instanceof InputError) throw new InputError(`--ringing-at ${place.section}: ${error.message}`)
    throw error
  }
  if (!found) throw new InputError(`--ringing-at ${place.section}: no feeder leads there`)
  return found
}

function writeDrawings(
  folder: string,
  model: TrackModel,
  report: TrackReport,
  at: RingingAt | undefined,
  io: Io,
): void {
  makeFolder(folder)
  const drawings = trackDrawings(model, report)
  if (at) drawings.push(ringingDrawing(at.edges, at.place))
  for (const { name, svg } of drawings) writeWhole(join(folder, `${name}.svg`), svg)
  io.note(`Wrote ${drawings.map(({ name }) => `${name}.svg`).join(', ')} to ${folder}.`)
}

function writeNetlists(file: string, model: TrackModel, at: RingingAt | undefined, io: Io): void {
  const { plan, net, worstCase } = model
  writeWhole(file, dcNetlist(plan, worstCase, loadsOf(plan, net)))
  const written = [file]
  const write = (name: string, text: string) => {
    const edge = `${file.replace(/\.cir$/i, '')}-edge-${fileName(name)}.cir`
    writeWhole(edge, text)
    written.push(edge)
  }
  net.districts.forEach((name, d) => {
    const c = ringCircuit(plan, net, d)
    if (!c) return
    write(name, ringNetlist(c, windowUs(c)))
  })
  if (at) write(`at ${at.place}`, at.netlist)
  io.note(`Wrote ${written.join(', ')}.`)
}
