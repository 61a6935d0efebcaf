import { join } from 'node:path'
import { wrapText } from '../../plot/index.js'
import {
  adviseTrack,
  DesignFault,
  dcNetlist,
  districtRinging,
  judgeTrack,
  LIMITS,
  loadsOf,
  modelTrack,
  placeEdges,
  reportTrack,
  ringCircuit,
  ringNetlist,
  sourcesFromPower,
  type TrackInput,
  type TrackModel,
  type TrackReport,
  trackDrawings,
  type Waves,
  windowUs,
  withTerminator,
} from '../../track/index.js'
import { InputError } from '../../units/index.js'
import type { Arguments, Command, ExitStatus, Io } from '../command.js'
import { writeWhole } from '../files.js'
import { makeFolder } from '../make-folder.js'
import { type DesignFile, profileOfDesign, readDesign } from '../read-design.js'
import { evidenceText } from '../signal-text.js'
import { runSpice, SpiceUnavailable } from '../spice.js'
import { trackText } from '../track-text.js'

/** Places of the rails beyond which proposals take minutes. */
const LARGE = 40_000

export const command: Command = {
  usage: ['track DESIGN [options]'],
  about: `Solves the network of rails and wires that the design describes: voltage at every place with the trains where they
stand and where they hurt most, what a short draws at every place and joint, what one fault would do, whether a rail meets its
opposite, how edges ring on the bus, and what to change.`,
  options: {
    svg: { type: 'string', value: 'DIR', help: 'write maps and curves as SVG into this folder' },
    netlist: {
      type: 'string',
      value: 'FILE.cir',
      help: 'write the network as a SPICE netlist, and beside it one for the edges of each district',
    },
    spice: {
      type: 'boolean',
      help: 'confirm the edges with the SPICE engine (optional package eecircuit-engine)',
    },
    all: { type: 'boolean', help: 'every row of every table' },
    quick: { type: 'boolean', help: 'leave out proposals and the search for the best end of the bus' },
  },
  takes: { min: 1, max: 1, what: 'one design file' },
  examples: ['halfbit track halfbit.yaml', 'halfbit track halfbit.yaml --svg maps --netlist track.cir'],
  run,
}

async function run(args: Arguments, io: Io): Promise<ExitStatus> {
  const [file] = args.positionals as [string]
  const loaded = readDesign(file)
  const input = inputOf(loaded)
  let model: TrackModel
  try {
    model = modelTrack(input)
  } catch (error) {
    if (error instanceof DesignFault)
      throw new InputError(error.message, { file, ...loaded.placeOf(error.path) })
    throw error
  }
  const quick = args.on('quick')
  io.progress('solving the network …')
  const report = reportTrack(model, input, { terminator: !quick })
  if (args.on('spice')) await confirm(model, input, report, io)
  const large = model.net.places.length > LARGE
  if (large && !quick) io.note('Proposals are left out: the railroad is too large to solve it a dozen times.')
  io.progress('solving what could be changed …')
  const advice = quick || large ? undefined : adviseTrack(model, input)
  io.progress('')
  const svg = args.text('svg')
  if (svg !== undefined) writeDrawings(svg, model, report, io)
  const netlist = args.text('netlist')
  if (netlist !== undefined) writeNetlists(netlist, model, io)
  if (args.on('json')) {
    io.out(JSON.stringify({ halfbit: 1, design: file, ...jsonOf(report, loaded.placeOf), advice }))
  } else {
    const text = trackText(report, advice, { width: io.width, all: args.on('all') })
    io.out(
      [
        ...text,
        ...evidenceText(report.evidence),
        '',
        ...report.cautions.flatMap((c) => wrapText(`! ${c}`, io.width, '  ')),
      ].join('\n'),
    )
  }
  return report.evidence.some((e) => e.verdict === 'broken') ? 1 : 0
}

function inputOf(loaded: DesignFile): TrackInput {
  const { design, file } = loaded
  if (!design.track)
    throw new InputError('there is no "track" in this design; expected bus, sections and feeders', { file })
  if (!design.power)
    throw new InputError('there is no "power" in this design; the track needs its power districts', { file })
  return {
    track: design.track,
    ...(design.rollingStock ? { rollingStock: design.rollingStock } : {}),
    sources: sourcesFromPower(design.power, design.signal),
    profile: profileOfDesign(loaded),
  }
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
async function confirm(model: TrackModel, input: TrackInput, report: TrackReport, io: Io): Promise<void> {
  const ringing = report.ringing
  if (!ringing) return
  for (const [i, had] of ringing.districts.entries()) {
    const c = ringCircuit(model.plan, model.net, model.net.districts.indexOf(had.district))
    if (!c) continue
    io.progress(`SPICE: edges of district ${had.district} …`)
    try {
      const until = windowUs(c)
      const bySpice = districtRinging(c, await spiceWaves(c, until, io), 'SPICE')
      if (had.best) {
        const better = withTerminator(c, had.best)
        const edges = placeEdges(better, await spiceWaves(better, until, io))
        bySpice.best = {
          ...had.best,
          peakVolt: Math.max(...edges.map((e) => e.peakVolt)),
          distortionVolt: Math.max(...edges.map((e) => e.distortionVolt)),
          slopeVoltPerUs: Math.min(...edges.map((e) => e.slopeVoltPerUs)),
        }
        if (had.bestWave) bySpice.bestWave = had.bestWave
      }
      ringing.districts[i] = bySpice
    } catch (error) {
      if (!(error instanceof SpiceUnavailable)) throw error
      io.note(`District ${had.district}: edges not confirmed by SPICE: ${error.message}.`)
    }
  }
  report.evidence = judgeTrack(report, { ...LIMITS, ...input.track.limits }, input.profile)
}

async function spiceWaves(c: Parameters<typeof ringNetlist>[0], until: number, io: Io): Promise<Waves> {
  const { vectors } = await runSpice(ringNetlist(c, until), { signal: io.signal })
  const time = vectors.get('time')
  const volt = new Map(c.probes.map((k) => [k, vectors.get(`v(n${k})`)]))
  if (!time || [...volt.values()].some((v) => v === undefined))
    throw new SpiceUnavailable('a waveform is missing in its result')
  return { timeUs: time.map((s) => s * 1e6), volt: volt as Map<number, Float64Array> }
}

function writeDrawings(folder: string, model: TrackModel, report: TrackReport, io: Io): void {
  makeFolder(folder)
  const drawings = trackDrawings(model, report)
  for (const { name, svg } of drawings) writeWhole(join(folder, `${name}.svg`), svg)
  io.note(`Wrote ${drawings.map(({ name }) => `${name}.svg`).join(', ')} to ${folder}.`)
}

function writeNetlists(file: string, model: TrackModel, io: Io): void {
  const { plan, net, weak } = model
  writeWhole(file, dcNetlist(plan, weak, loadsOf(plan, net)))
  const written = [file]
  net.districts.forEach((name, d) => {
    const c = ringCircuit(plan, net, d)
    if (!c) return
    const edge = `${file.replace(/\.cir$/i, '')}-edge-${name.replace(/[^\w-]+/g, '-')}.cir`
    writeWhole(edge, ringNetlist(c, windowUs(c)))
    written.push(edge)
  })
  io.note(`Wrote ${written.join(', ')}.`)
}
