import { existsSync } from 'node:fs'
import { basename } from 'node:path'
import {
  BENCH_FINDINGS,
  isComplete,
  type Playable,
  type ScenarioResult,
  timelineSvg,
  timelineVcd,
} from '../../bench/index.js'
import { isSimulated } from '../../controller/index.js'
import { scenarioText } from '../../design/index.js'
import { type Bench, benchOf, scenarioFromFile } from '../../proof/index.js'
import { InputError, nearest } from '../../units/index.js'
import { benchData } from '../bench-player.js'
import { scenarioLines } from '../bench-text.js'
import { campaignOf, campaignOptions, jobsOption, mergeParts } from '../campaign-command.js'
import {
  type Arguments,
  type Command,
  type ExitStatus,
  type Io,
  TRANSLATE_OPTION,
  VARIANT_OPTION,
} from '../command.js'
import { writeWhole } from '../files/index.js'
import { readFirmware } from '../firmware-evidence.js'
import { type ChosenScenario, playScenarios } from '../play-scenarios.js'
import { type DesignFile, readDesign, readTextFile } from '../read-design.js'

/** A campaign plays each scenario hundreds of times: a longer one only where it is named, us. */
const LONGEST_UNNAMED_US = 30e6

/** `halfbit bench DESIGN [SCENARIO…]`: firmware, drivers, districts and decoders in one run. */
export const command: Command = {
  usage: [
    'bench DESIGN [SCENARIO…] [--firmware FILE] [--jobs J] [--timeline] [--heard] [--json]',
    'bench DESIGN [SCENARIO…] --runs N [--seed S] [--jobs J] [--shard I/N] [--failures DIR] [--json]',
    'bench --merge FILE… [--json]',
  ],
  about: `Runs the firmware against the station and railroad of the design: its pins drive the modelled drivers, decoders receive
what is on the rails, and the current returns through the sense to the converter. A scenario is a file (see docs/scenarios.md) or the
name of a built-in one: shorts in each district, every locomotive started at once, the heaviest traffic, a restart and a program
that hangs while trains run, a CV written and verified on the service track, a minute without commands. Without a name, all
built-in ones are run. Exits with 1 if something is broken, or if an expectation of a scenario file is not shown or
an act of it never happens.

With --runs it is a campaign: the scenarios take turns, each time with other times, places and resistances, on a station drawn within
the tolerances of the design. The same seed gives the same runs, however they are divided among threads and parts.`,
  options: {
    variant: VARIANT_OPTION,
    firmware: { type: 'string', value: 'FILE', help: 'HEX or ELF in place of the design’s' },
    timeline: { type: 'boolean', help: 'print what happened, event by event' },
    heard: { type: 'boolean', help: 'print which decoder acted on which command when, or why it never did' },
    svg: { type: 'string', value: 'FILE', writes: true, help: 'draw the scenario over time (one only)' },
    vcd: {
      type: 'string',
      value: 'FILE',
      writes: true,
      help: 'the same for a waveform viewer, volts and amperes as real numbers',
    },
    write: {
      type: 'string',
      value: 'FILE',
      writes: true,
      help: 'write the scenario as a file and run nothing (one only)',
    },
    runs: { type: 'string', value: 'N', help: 'play a campaign of N runs, 1 to 1000000' },
    seed: { type: 'string', value: 'S', help: 'seed of the random draws of a campaign; default 1' },
    jobs: { type: 'string', value: 'J', help: 'most threads to use; default: the number of cores' },
    shard: {
      type: 'string',
      value: 'I/N',
      help: 'only part I of N of a campaign; --merge puts the parts together',
    },
    'stop-at-first': { type: 'boolean', help: 'end a campaign at its first broken run' },
    failures: {
      type: 'string',
      value: 'DIR',
      help: 'write each broken run as a scenario file, the first of each kind reduced',
    },
    merge: { type: 'boolean', help: 'join the JSON of the parts of a campaign' },
    translate: TRANSLATE_OPTION,
    list: { type: 'boolean', help: 'list the scenarios of the design and run nothing' },
  },
  takes: {
    min: 1,
    max: 1000,
    what: 'one design file, then names of scenarios or their files; with --merge, files',
  },
  examples: [
    'halfbit bench examples/exhibition/halfbit.yaml',
    'halfbit bench examples/two-tracks/halfbit.yaml "CV on programming" --timeline',
  ],
  run,
}

async function run(args: Arguments, io: Io): Promise<ExitStatus> {
  const [file, ...wanted] = args.positionals as [string, ...string[]]
  if (args.on('merge')) return mergeParts(args, io)
  const loaded = readDesign(file, io, args.text('variant'))
  const { bench, firmware } = benchFor(loaded, args.text('firmware'), args.on('translate'))
  if (args.on('list')) {
    const names = bench.standing.map((s) => s.name)
    io.out(args.on('json') ? JSON.stringify({ halfbit: 1, scenarios: names }, null, 2) : names.join('\n'))
    return 0
  }
  const asked =
    wanted.length === 0
      ? bench.standing.map((playable, standing) => ({ playable, task: { standing } }))
      : wanted.map((name) => scenarioOf(name, bench))
  const chosen = asked.map((one) => one.playable)
  const campaign = campaignOptions(args)
  if (campaign) {
    const isShort = ({ scenario }: Playable) => (scenario?.lasts ?? 0) <= LONGEST_UNNAMED_US
    const taken = wanted.length === 0 ? chosen.filter(isShort) : chosen
    return campaignOf(campaign, { loaded, firmware, chosen: taken }, args, io)
  }
  const target = args.text('write')
  if (target !== undefined) return writeScenario(chosen, target, io)
  for (const name of ['svg', 'vcd'])
    if (args.text(name) !== undefined && chosen.length !== 1)
      throw new InputError(`--${name} shows one scenario; found ${chosen.length}. "--list" names them`)
  const data = benchData(loaded, firmware, args.on('translate'))
  const show = { timeline: args.on('timeline'), heard: args.on('heard') }
  const results = await playScenarios(asked, bench, data, io, {
    jobs: jobsOption(args),
    onResult(result) {
      exportTimeline(result, firmware, args, io)
      if (!args.on('json')) io.out(scenarioLines(result, io.width, show).join('\n'))
    },
  })
  const { sentence } = BENCH_FINDINGS.find('not-modelled', {})
  if (args.on('json')) {
    const list = results.map(({ amps, signals: _, ...rest }) => ({ ...rest, amps: Object.fromEntries(amps) }))
    const { name } = loaded.design
    io.out(JSON.stringify({ halfbit: 1, file, name, scenarios: list, leftOut: sentence }, null, 2))
  } else io.out(`${sentence[0]!.toUpperCase()}${sentence.slice(1)}.`)
  if (io.signal.aborted) return 3
  // In the order asked for; those of a thread are copies.
  return results.some((r, i) => failed(r, 'text' in asked[i]!.task)) ? 1 : 0
}

function exportTimeline(
  result: ScenarioResult,
  { sha256, source }: ReturnType<typeof readFirmware>,
  args: Arguments,
  io: Io,
): void {
  const [svg, vcd] = [args.text('svg'), args.text('vcd')]
  if (svg !== undefined) writeWhole(svg, timelineSvg(result))
  const madeBy = { command: 'bench' as const, firmware: { name: basename(source.file), sha256 } }
  if (vcd !== undefined) writeWhole(vcd, timelineVcd(result, madeBy))
  for (const path of [svg, vcd]) if (path !== undefined && path !== '-') io.note(`wrote ${path}`)
}

/** @param isFile what somebody expects in a file must be shown, and every act of it happen. */
function failed(result: ScenarioResult, isFile: boolean): boolean {
  const { outcomes, statements } = result
  return (
    (isFile && !isComplete(result)) ||
    statements.some((s) => s.verdict === 'broken') ||
    outcomes.some(({ verdict }) => verdict === 'broken' || (isFile && verdict !== 'met'))
  )
}

interface BenchWithFirmware {
  bench: Bench
  firmware: ReturnType<typeof readFirmware>
}

/** @throws InputError where the design cannot be put on the bench. */
function benchFor(loaded: DesignFile, named: string | undefined, translate: boolean): BenchWithFirmware {
  const { design, file } = loaded
  const { chip } = design.controller
  if (!isSimulated(chip))
    throw new InputError(
      `the bench runs firmware, and the ${chip} cannot be simulated; expected a simulated chip`,
      { file, ...loaded.placeOf(['controller', 'chip']) },
    )
  const path = named ?? (design.firmware && loaded.beside(design.firmware.file))
  if (path === undefined)
    throw new InputError('the design names no firmware; expected "firmware", or --firmware FILE', { file })
  const firmware = readFirmware(path, translate)
  const bench = benchOf(loaded, firmware.image, chip, firmware.source.file)
  if (!bench)
    throw new InputError('the design has no "power"; expected its supplies, drivers and districts', { file })
  return { bench, firmware }
}

/**
 * A scenario of the design by its name, or of a file.
 * @throws InputError with the nearest name.
 */
function scenarioOf(name: string, bench: Bench): ChosenScenario {
  const standing = bench.standing.findIndex((s) => s.name === name)
  if (standing >= 0) return { playable: bench.standing[standing]!, task: { standing } }
  if (name === '-' || existsSync(name) || /\.ya?ml$/i.test(name)) {
    const text = readTextFile(name, 'a scenario file')
    return { playable: scenarioFromFile(bench, text, name), task: { text, file: name } }
  }
  const names = bench.standing.map((s) => s.name)
  const close = nearest(name, names)
  throw new InputError(
    `no scenario "${name}", and no such file; expected a file or one of ${names.map((n) => `"${n}"`).join(', ')}${close ? `; the nearest is "${close}"` : ''}`,
  )
}

function writeScenario(chosen: readonly Playable[], target: string, io: Io): ExitStatus {
  const [one] = chosen
  if (chosen.length !== 1 || !one)
    throw new InputError(`--write takes one scenario; found ${chosen.length}. "--list" names them`)
  if (!one.scenario) {
    throw new InputError(
      `"${one.name}" cannot be run with this design: ${one.run().findings[0]?.sentence ?? ''}`,
    )
  }
  writeWhole(target, scenarioText(one.scenario))
  if (target !== '-') io.note(`wrote ${target}`)
  return 0
}
