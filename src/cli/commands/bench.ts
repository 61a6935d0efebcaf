import { BENCH_FINDINGS, type ScenarioResult, type Standing } from '../../bench/index.js'
import { isSimulated } from '../../controller/index.js'
import { benchScenarios } from '../../proof/index.js'
import { InputError, nearest } from '../../units/index.js'
import { scenarioLines } from '../bench-text.js'
import type { Arguments, Command, ExitStatus, Io } from '../command.js'
import { readFirmware } from '../firmware-evidence.js'
import { readDesign } from '../read-design.js'

/** `halfbit bench DESIGN [SCENARIO…]`: firmware, drivers, districts and decoders in one run. */
export const command: Command = {
  usage: ['bench DESIGN [SCENARIO…] [--firmware FILE] [--timeline] [--json]'],
  about: `Runs the firmware against the station and railroad of the design: its pins drive the modelled drivers, decoders hear what
is on the rails, and the current comes back through the sense into the converter. The standing scenarios are those that the design
gives rise to: a short in each district, every locomotive started at once, a restart under way, a CV written and verified on the
service track.`,
  options: {
    firmware: { type: 'string', value: 'FILE', help: 'HEX or ELF in place of the design’s' },
    timeline: { type: 'boolean', help: 'print what happened, event by event' },
    list: { type: 'boolean', help: 'list the scenarios of the design and run none' },
  },
  takes: { min: 1, max: 30, what: 'one design file, then names of scenarios' },
  examples: [
    'halfbit bench examples/exhibition/halfbit.yaml',
    'halfbit bench examples/two-tracks/halfbit.yaml "CV on programming" --timeline',
  ],
  run,
}

async function run(args: Arguments, io: Io): Promise<ExitStatus> {
  const [file, ...wanted] = args.positionals as [string, ...string[]]
  const loaded = readDesign(file)
  const { design } = loaded
  const { chip } = design.controller
  if (!isSimulated(chip))
    throw new InputError(
      `the bench runs firmware, and the ${chip} cannot be simulated; expected a simulated chip`,
      {
        file,
        ...loaded.placeOf(['controller', 'chip']),
      },
    )
  const path = args.text('firmware') ?? (design.firmware && loaded.beside(design.firmware.file))
  if (path === undefined)
    throw new InputError('the design names no firmware; expected "firmware", or --firmware FILE', { file })
  const firmware = readFirmware(path)
  const all = benchScenarios(loaded, firmware.image, chip, firmware.source.file)
  if (!all)
    throw new InputError('the design has no "power"; expected its supplies, drivers and districts', { file })
  if (args.on('list')) {
    const names = all.map((s) => s.name)
    io.out(args.on('json') ? JSON.stringify({ halfbit: 1, scenarios: names }, null, 2) : names.join('\n'))
    return 0
  }
  const chosen = wanted.length === 0 ? all : wanted.map((name) => byName(name, all))
  const results: ScenarioResult[] = []
  const { sentence } = BENCH_FINDINGS.find('not-modelled', {})
  for (const [i, scenario] of chosen.entries()) {
    io.progress(`${i + 1} of ${chosen.length}: ${scenario.name}`)
    // Lets Ctrl-C through.
    await new Promise((resolve) => setImmediate(resolve))
    if (io.signal.aborted) break
    const result = scenario.run()
    results.push(result)
    if (!args.on('json')) io.out(scenarioLines(result, io.width, args.on('timeline')).join('\n'))
  }
  io.progress('')
  if (args.on('json')) {
    const list = results.map(({ amps, ...rest }) => ({ ...rest, amps: Object.fromEntries(amps) }))
    io.out(
      JSON.stringify({ halfbit: 1, file, name: design.name, scenarios: list, leftOut: sentence }, null, 2),
    )
  } else io.out(`The bench ${sentence.replace('left out', 'leaves out')}.`)
  if (io.signal.aborted) return 3
  return results.some((r) => r.statements.some((s) => s.verdict === 'broken')) ? 1 : 0
}

/** @throws InputError with the nearest name. */
function byName(name: string, all: readonly Standing[]): Standing {
  const found = all.find((s) => s.name === name)
  if (found) return found
  const names = all.map((s) => s.name)
  const close = nearest(name, names)
  throw new InputError(
    `no scenario "${name}"; expected one of ${names.map((n) => `"${n}"`).join(', ')}${close ? `; the nearest is "${close}"` : ''}`,
  )
}
