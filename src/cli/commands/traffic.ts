import { join, resolve } from 'node:path'
import { SIMULATED_CHIPS } from '../../controller/index.js'
import type { Design } from '../../design/index.js'
import { outputOf, placeEvidence } from '../../proof/index.js'
import {
  bestPolicy,
  type CaseResult,
  CONTENTS,
  latencyPlot,
  loadPlot,
  policyHeader,
  REASONS,
  refreshSeen,
  stopPlot,
  stopsOf,
  summarise,
  type TrafficSeen,
  TrafficWatch,
  timelinePlot,
  trafficEvidence,
  trafficInputOf,
  USUAL_POLICIES,
} from '../../traffic/index.js'
import { formatTimeUs, InputError, nearest } from '../../units/index.js'
import { readCapture } from '../capturing.js'
import { type Arguments, type Command, type ExitStatus, type Io, VARIANT_OPTION } from '../command.js'
import { evidenceLines } from '../evidence-text.js'
import { makeFolder, writeWhole } from '../files/index.js'
import { readFirmware, readStimulus } from '../firmware-evidence.js'
import { countOption, quantityOption } from '../quantity-option.js'
import { type DesignFile, profileOfDesign, readDesign } from '../read-design.js'
import { runFirmware } from '../run-firmware.js'
import { runTraffic } from '../traffic-tasks.js'
import { caseText, compareText, seenText, stopsText } from '../traffic-text.js'

export const command: Command = {
  usage: ['traffic DESIGN [options]'],
  about: `Simulates what the station sends, packet by packet: how often each address is refreshed, how long commands take
to reach the rails, how many locomotives a scheduling policy can serve, and whether trains stop inside their blocks.`,
  options: {
    variant: VARIANT_OPTION,
    policy: {
      type: 'string',
      value: 'NAME',
      help: 'only this policy; by default all policies of the design are compared',
    },
    most: {
      type: 'string',
      value: 'N',
      help: 'largest fleet to try; 0 skips this (capacity, or twice the fleet)',
    },
    for: {
      type: 'string',
      value: 'TIME',
      help: 'simulated railroad time; by default until the figures converge',
    },
    firmware: {
      type: 'string',
      value: 'FILE',
      help: 'run this firmware on the controller of the design, and compare what it sends with the plan',
    },
    capture: {
      type: 'string',
      value: 'FILE',
      help: 'compare what a capture shows with the plan; read as the design says, if it names the file',
    },
    channel: {
      type: 'string',
      value: 'NAME',
      multiple: true,
      help: 'channel of the capture; two are subtracted',
    },
    rate: { type: 'string', value: 'RATE', help: 'sampling rate of the capture, if the file does not say' },
    run: { type: 'string', value: 'TIME', help: 'simulated time of the firmware (30 s)' },
    svg: { type: 'string', value: 'DIR', help: 'write the drawings into this folder' },
    c: {
      type: 'string',
      value: 'FILE',
      writes: true,
      help: 'write the settings of the best policy as a C header',
    },
    jobs: { type: 'string', value: 'N', help: 'threads (one for each core)' },
  },
  takes: { min: 1, max: 1, what: 'one design file' },
  examples: [
    'halfbit traffic halfbit.yaml',
    'halfbit traffic halfbit.yaml --svg plots --c traffic_settings.h',
  ],
  run,
}

async function run(args: Arguments, io: Io): Promise<ExitStatus> {
  const [file] = args.positionals as [string]
  const loaded = readDesign(file, io, args.text('variant'))
  const { design } = loaded
  if (!design.fleet)
    throw new InputError('the design has no fleet; add one: locomotives with their addresses', { file })
  const input = trafficInputOf({ ...design, fleet: design.fleet })
  const policies = policiesOf(args, design, file)
  const capture = captureOf(args, loaded, input.traffic.output!)
  const firmware = firmwareOf(args, loaded, input.traffic.output!)
  const most = countOption(args, 'most', 0, 10000)
  const forUs = quantityOption(args, 'for', 'time', { min: 1e6, max: 100 * 3600e6, says: '1 s to 100 h' })
  const runs = await runTraffic(
    {
      input,
      policies: policies.names,
      most: most ?? input.traffic.capacity ?? Math.max(40, 2 * size(design)),
      jobs: countOption(args, 'jobs', 1, 256),
      forUs,
    },
    io,
  )
  const k = runs.clean.findIndex((r) => r.policy === policies.chosen)
  const clean = runs.clean[k]
  if (!clean) {
    io.note(`stopped before policy "${policies.chosen}" was done`)
    return 3
  }
  const profile = profileOfDesign(loaded, input.timing.cutoutUs > 0)
  const stops = stopsOf(runs.traffic, clean)
  const choice = bestPolicy(runs.clean.map(summarise), runs.dirty.map(summarise), input.traffic.limit)
  const evidence = placeEvidence(
    'traffic',
    trafficEvidence(runs.traffic, clean, stops.figures, profile),
    loaded,
    file,
  )
  const facts: Fact[] = []
  for (const look of [firmware, capture]) if (look && !io.signal.aborted) facts.push(await look(io))
  for (const { seen, source, origin, file } of facts)
    evidence.push(
      ...refreshSeen(runs.traffic.locomotives, seen.addresses, profile.clauses.refresh, {
        origin,
        source,
        ranUs: seen.timeUs,
        about: input.traffic.output,
        file,
      }),
    )
  const header = policyHeader(runs.traffic, choice.policy)
  const headerFile = args.text('c')
  if (headerFile !== undefined) writeWhole(headerFile, header)
  const folder = args.text('svg')
  if (folder !== undefined) {
    const drawings = {
      timeline: timelinePlot(clean),
      latency: latencyPlot(clean, input.traffic.limit),
      ...(runs.points.length > 0 ? { load: loadPlot(runs.points, input.traffic.limit) } : {}),
      ...(stops.figures.length > 0 ? { stops: stopPlot(stops.figures, stops.shots) } : {}),
    }
    makeFolder(folder)
    for (const [name, svg] of Object.entries(drawings)) writeWhole(join(folder, `traffic-${name}.svg`), svg)
    io.note(`${Object.keys(drawings).length} drawings in ${folder}`)
  }
  if (args.on('json')) {
    const object = {
      halfbit: 1,
      traffic: {
        policy: clean.policy,
        cases: [...runs.clean, ...runs.dirty].map((r) => plain(r, r === clean)),
        sweep: runs.points,
        carries: runs.carries,
        stops: stops.figures,
        shots: stops.shots,
        choice,
        header,
        sent: facts.map((f) => ({ origin: f.origin, source: f.source, ...f.seen })),
      },
      evidence,
      interrupted: runs.interrupted,
    }
    io.out(JSON.stringify(object, null, 2))
  } else {
    io.out(caseText(runs.traffic, clean, runs.dirty[k], io.width).join('\n'))
    if (stops.figures.length > 0)
      io.out(['', ...stopsText(stops.figures, input.traffic.sure, io.width)].join('\n'))
    io.out(['', ...compareText(runs.clean, runs.dirty, runs.carries, choice, io.width)].join('\n'))
    if (headerFile === undefined) io.out(['', header.trimEnd()].join('\n'))
    for (const f of facts)
      io.out(['', ...seenText(runs.traffic, clean, f.seen, f.source, io.width)].join('\n'))
    io.out(['', ...evidenceLines(evidence, io.width)].join('\n'))
  }
  return evidence.some((e) => e.verdict === 'broken') ? 1 : 0
}

function policiesOf(args: Arguments, design: Design, file: string): { names: string[]; chosen: string } {
  const names = Object.keys(design.traffic?.policies ?? USUAL_POLICIES)
  const wanted = args.text('policy')
  if (wanted !== undefined && !names.includes(wanted)) {
    const close = nearest(wanted, names)
    throw new InputError(
      `--policy "${wanted}": no such policy${close ? `; the nearest is "${close}"` : ''}; expected one of ${names.join(', ')}`,
      { file },
    )
  }
  if (wanted !== undefined) return { names: [wanted], chosen: wanted }
  const own = design.traffic?.policies !== undefined
  return { names, chosen: design.traffic?.policy ?? (own ? names[0]! : 'changes first') }
}

function size(design: Design): number {
  return Object.values(design.fleet ?? {}).reduce((sum, l) => sum + l.count, 0)
}

/** A case as plain data: samples and, except for the policy in use, the timeline are left out. */
function plain(r: CaseResult, whole: boolean): object {
  const { stops, trace, names, ...figures } = r
  if (!whole) return figures
  const timeline = Array.from({ length: trace.count }, (_, i) => ({
    startUs: trace.startNs[i]! / 1000,
    endUs: trace.endNs[i]! / 1000,
    to: trace.address[i]! < 0 ? null : names[trace.address[i]!],
    content: CONTENTS[trace.content[i]!],
    reason: REASONS[trace.reason[i]!],
  }))
  return { ...figures, timeline }
}

/** What was really sent. */
interface Fact {
  seen: TrafficSeen
  source: string
  origin: 'simulated' | 'measured'
  file: string
}

/** A run of the firmware, checked before anything is calculated; undefined when none is asked for. */
function firmwareOf(
  args: Arguments,
  loaded: DesignFile,
  track: string,
): ((io: Io) => Promise<Fact>) | undefined {
  const file = args.text('firmware')
  const runUs = quantityOption(args, 'run', 'time', { min: 1000, max: 24 * 3600e6, says: '1 ms to 24 h' })
  if (file === undefined) {
    if (runUs !== undefined) throw new InputError('--run needs --firmware')
    return undefined
  }
  const { design } = loaded
  const { chip, clock } = design.controller
  const simulated = SIMULATED_CHIPS.find((id) => id === chip)
  if (!simulated)
    throw new InputError(
      `firmware of ${chip} cannot be simulated; expected one of ${SIMULATED_CHIPS.join(', ')}`,
    )
  const { image } = readFirmware(file)
  const script = design.firmware?.stimulus
  const stimulus = script === undefined ? undefined : readStimulus(loaded.beside(script)).stimulus
  const forUs = runUs ?? 30e6
  return async (io) => {
    const watch = new TrafficWatch()
    const result = await runFirmware(
      {
        image,
        chip: simulated,
        clockHz: clock.frequency,
        outputs: [outputOf(loaded, track)],
        stimulus,
        forUs,
        skipUs: design.firmware?.skip ?? 0,
        onPacket: (_, packet) => watch.add(packet),
      },
      io,
    )
    return {
      seen: watch.finish(),
      source: `${formatTimeUs(result.report.simulatedUs)} of ${file}`,
      origin: 'simulated',
      file,
    }
  }
}

/** A capture to be read; what the design says of the same file holds unless an option says otherwise. */
function captureOf(
  args: Arguments,
  loaded: DesignFile,
  track: string,
): ((io: Io) => Promise<Fact>) | undefined {
  const file = args.text('capture')
  if (file === undefined) {
    for (const option of ['channel', 'rate'])
      if (args.text(option) !== undefined || args.texts(option).length > 0)
        throw new InputError(`--${option} needs --capture`)
    return undefined
  }
  const named = loaded.design.captures?.find((c) => resolve(loaded.beside(c.file)) === resolve(file))
  const channels = args.texts('channel')
  const rateHz = quantityOption(args, 'rate', 'frequency', { min: 1, max: 1e12, says: '1 Hz to 1000 GHz' })
  const output = loaded.design.signal.outputs[track]!
  return async (io) => {
    const watch = new TrafficWatch()
    const { reading } = await readCapture({
      path: file,
      capture: {
        channel: channels.length > 0 ? channels : named?.channel,
        invert: named?.invert ?? false,
        rateHz: rateHz ?? named?.rate,
        bits: named?.bits,
        skipUs: named?.skip,
        fromUs: named?.from,
        toUs: named?.to,
      },
      reader: { mode: 'operations', cutout: output.cutout, onPacket: (p) => watch.add(p) },
      signal: io.signal,
      onProgress: (bytes, of) => io.progress(`read ${Math.round((100 * bytes) / of)} % of ${file}`),
    })
    io.progress('')
    if (reading.packets.valid === 0)
      throw new InputError('no valid packet in the capture; halfbit capture tells more', { file })
    return { seen: watch.finish(), source: `capture ${file}`, origin: 'measured', file }
  }
}
