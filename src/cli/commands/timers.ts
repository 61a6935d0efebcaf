/** `halfbit timers`: the ways to make the signal with the design's controller, ranked; `--c` writes a C header. */
import { chosenOption, cName, hasHeader, searchTimers, signalHeader } from '../../controller/index.js'
import { evidenceOfDesign } from '../../proof/index.js'
import { formatNumber, InputError, nearest } from '../../units/index.js'
import { type Command, type ExitStatus, VARIANT_OPTION } from '../command.js'
import { displayPath } from '../display-path.js'
import { writeWhole } from '../files/index.js'
import { profileOfDesign, readDesign } from '../read-design.js'
import { type OutputTimers, onlyReserved, outputTimersText } from '../timers-report.js'

/** Options in the JSON object unless `--all` asks for each. */
const JSON_OPTIONS = 20

export const command: Command = {
  usage: ['timers DESIGN [--output NAME] [--all] [--pick ID] [--c FILE]'],
  about:
    'Searches every timer, prescaler and mode of the controller for configurations that make the signal, and ranks them by ' +
    'headroom to the limits, then by how late an interrupt may be, then by what a missed deadline does. Interrupt times are assumptions; ' +
    '`halfbit simulate` measures them.',
  options: {
    variant: VARIANT_OPTION,
    output: { type: 'string', value: 'NAME', help: 'only this output' },
    all: {
      type: 'boolean',
      help: 'every configuration, including the rejected ones and the modes that look usable but are not',
    },
    pick: {
      type: 'string',
      value: 'ID',
      help: "show (or write) this configuration in place of the design's own choice",
    },
    c: {
      type: 'string',
      value: 'FILE',
      help: 'write a C header for the classic 8-bit AVR family; - for stdout',
    },
  },
  takes: { min: 1, max: 1, what: 'a design file' },
  examples: [
    'halfbit timers halfbit.yaml',
    'halfbit timers halfbit.yaml --output main --c firmware/halfbit_signal.h',
  ],

  async run(args, io): Promise<ExitStatus> {
    const path = args.positionals[0]!
    const loaded = readDesign(path, io, args.text('variant'))
    const { controller, signal } = loaded.design
    const names = Object.keys(signal.outputs)
    const only = args.text('output')
    if (only !== undefined && !names.includes(only)) {
      const close = nearest(only, names)
      throw new InputError(
        `--output ${only}: the design has no such output${close ? `; the nearest is ${close}` : ''}; expected one of ${names.join(', ')}`,
        { file: path },
      )
    }
    const wanted = only === undefined ? names : [only]
    const file = args.text('c')
    if (file !== undefined && wanted.length > 1) {
      throw new InputError(`a C header is for one output: give --output NAME, one of ${names.join(', ')}`, {
        file: path,
      })
    }
    const profileFor = (cutout: boolean) => profileOfDesign(loaded, cutout)
    // As the proof has it: behind the drivers, where the design has them.
    const evidence = evidenceOfDesign(
      loaded,
      { file: displayPath(path) },
      { pace: 'at once', faults: 'tell' },
    ).statements
    const pick = args.text('pick')
    const reports = wanted.map((name): OutputTimers => {
      const track = signal.outputs[name]!
      const { clauses } = profileFor(track.cutout)
      const found = searchTimers({ controller, track, clauses })
      const chosen = chosenOption({ controller, signal }, name, clauses)
      const all = [...found.options, ...found.refused]
      const picked = pick === undefined ? chosen.option : all.find((o) => o.id === pick)
      if (pick !== undefined && picked === undefined) {
        const close = nearest(
          pick,
          all.map((o) => o.id),
        )
        throw new InputError(
          `--pick ${pick}: no such configuration${close ? `; the nearest is ${close}` : ''}; expected one of those that --all --json lists`,
        )
      }
      return {
        name,
        wanted: {
          oneHalfUs: track.oneHalf,
          zeroHalfUs: track.zeroHalf,
          pin: track.pin,
          ...(track.inverted === undefined ? {} : { inverted: track.inverted }),
          ...(track.method === undefined ? {} : { method: track.method }),
        },
        found,
        ...(chosen.option ? { choice: chosen.option } : {}),
        ...(chosen.leftOpen === undefined ? {} : { leftOpen: chosen.leftOpen }),
        ...(picked ? { shown: picked } : {}),
        evidence: evidence.filter(
          (e) => e.about === name || (e.about === undefined && name === wanted.at(-1)),
        ),
      }
    })

    if (file !== undefined) {
      const report = reports[0]!
      const option = report.shown ?? report.found.options.find(hasHeader)
      if (option === undefined) {
        throw new InputError(
          `no C header: no timer of the ${controller.chip} drives ${report.wanted.pin} that way`,
          { file: path },
        )
      }
      const preamble = signal.outputs[report.name]!.preamble
      const text = signalHeader({
        chip: controller.chip,
        clockHz: controller.clock.frequency,
        option,
        track: report.name,
        prefix: names.length === 1 ? 'halfbit' : `halfbit_${cName(report.name)}`,
        ...(preamble === undefined ? {} : { preamble }),
        clauses: profileFor(signal.outputs[report.name]!.cutout).clauses,
      })
      if (file === '-') io.out(text)
      else {
        writeWhole(file, text)
        io.note(`Wrote ${file}: ${option.id}.`)
      }
      return 0
    }

    const broken = reports.some(
      (r) => r.evidence.some((e) => e.verdict === 'broken') || r.found.options.length === 0,
    )
    const every = args.on('all')
    if (args.on('json')) {
      const outputs = reports.map((r) => ({
        name: r.name,
        wanted: r.wanted,
        best: r.found.best ?? null,
        choice: r.choice?.id ?? null,
        leftOpen: r.leftOpen ?? null,
        usable: r.found.options.length,
        options: every ? r.found.options : r.found.options.slice(0, JSON_OPTIONS),
        refused: every ? r.found.refused : r.found.refused.filter(onlyReserved),
        unusableModes: r.found.unusableModes,
        shown: r.shown ?? null,
        evidence: r.evidence,
      }))
      io.out(
        JSON.stringify(
          { halfbit: 1, chip: controller.chip, clockHz: controller.clock.frequency, outputs },
          null,
          2,
        ),
      )
    } else {
      const clock = `${formatNumber(controller.clock.frequency / 1e6, 8)} MHz, ${controller.clock.source}`
      const { title, edition } = profileFor(false)
      io.out(`Timers of ${controller.chip} at ${clock}; ${title} ${edition}`)
      for (const r of reports)
        io.out(['', ...outputTimersText(r, Math.max(60, io.width), every)].join('\n').trimEnd())
    }
    return broken ? 1 : 0
  },
}
