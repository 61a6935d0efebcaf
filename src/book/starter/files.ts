/** The starter firmware of a design as files. */
import type { CommandsDesign } from '../../controller/index.js'
import type { LoadedDesign } from '../../design/index.js'
import type { Finding } from '../../finding/index.js'
import { evidenceOfDesign } from '../../proof/index.js'
import { InputError } from '../../units/index.js'
import { HAZARD_OF } from '../bring-up/hazards.data.js'
import { boardH } from './c/board-c.js'
import { LANGUAGE_H, languageC, SERIAL_H, serialC } from './c/language-c.js'
import { makefile, portableMakefile } from './c/makefile.js'
import { PACKET_H, senderH, TEXT_H } from './c/packet-c.js'
import { powerC, powerH } from './c/power-c.js'
import { DETECTOR_H, SERVICE_C, SERVICE_H } from './c/service-c.js'
import { mainC, STATION_H } from './c/station-c.js'
import { TURNS_H, turnsC } from './c/turns-c.js'
import { firmwareYaml, starterCommands } from './commands.js'
import { figuresH, signalH } from './figures.js'
import { STARTER_FINDINGS as SAYS } from './findings.data.js'
import { C_HEAD, HASH_HEAD, keptPlaces, sealed } from './places.js'
import { type StarterPlan, starterPlan } from './plan.js'
import { readme } from './readme.js'
import { trial } from './trial.js'

export interface Starter {
  /** Text by file name; with the builder's own code where there was some. */
  files: Map<string, string>
  /** How the firmware is commanded, for the design's `firmware.commands`. */
  commands: CommandsDesign
  /** The design's `firmware:` with files of a folder, given as its prefix, `firmware/`. */
  yaml(prefix: string): string
  /** The chip's registers are known: the firmware is complete and can be run. */
  complete: boolean
  findings: Finding[]
}

export interface StarterInput {
  loaded: LoadedDesign
  /** Name of the design file, for messages. */
  file: string
  /** Text of a file of the folder, if there is one. */
  existing(name: string): string | undefined
  /** Path of a file of the folder, for messages. */
  pathOf(name: string): string
  /** The folder as the design file would name it, with a slash behind it; nothing for its own. */
  prefix?: string
  /** Give up changes outside of the marked places. */
  discard?: boolean
}

/** All names that any starter firmware may have. */
const EVER = [
  'board.h',
  'detector.h',
  'main.c',
  'power.c',
  'power.h',
  'serial.c',
  'service.c',
  'service.h',
  'signal.h',
]

/**
 * The firmware, with what the builder wrote into the marked places of an earlier one.
 * @throws InputError where no sound firmware can be made, or a file of the folder cannot be written anew without a loss.
 */
export function starter(input: StarterInput): Starter {
  const planned = starterPlan(input.loaded, input.file)
  const plan = { ...planned, findings: [...unsound(input), ...planned.findings] }
  const fresh = textsOf(plan, input.prefix ?? '')
  const files = new Map<string, string>()
  for (const [name, text] of fresh) {
    const old = input.existing(name)
    const merged = old === undefined ? text : keptPlaces(text, old, input.discard)
    if (typeof merged !== 'string') {
      const place = { file: input.pathOf(name), ...(merged.line === undefined ? {} : { line: merged.line }) }
      throw new InputError(`not written: found ${merged.found}; expected ${merged.expected}`, place)
    }
    files.set(name, merged)
  }
  const left = EVER.filter((name) => !fresh.has(name) && input.existing(name) !== undefined)
  return {
    files,
    commands: starterCommands(plan),
    yaml: (prefix) => firmwareYaml(plan, prefix, trial(plan).runS),
    complete: plan.chip !== undefined,
    findings: [...plan.findings, ...(left.length > 0 ? [SAYS.find('left-over', { files: left })] : [])],
  }
}

/** What the calculation finds broken that can burn something, whatever the firmware does. */
function unsound({ loaded, file }: StarterInput): Finding[] {
  const { statements, fault } = evidenceOfDesign(loaded, { file }, { faults: 'tell' })
  if (fault) return [SAYS.find('not-calculated', { why: fault.sentence })]
  const clauses = statements.flatMap((e) =>
    e.verdict === 'broken' && HAZARD_OF[e.clause] === 'power'
      ? [e.about === undefined ? e.clause : `${e.clause} (${e.about})`]
      : [],
  )
  return clauses.length === 0 ? [] : [SAYS.find('unsound', { clauses: [...new Set(clauses)] })]
}

function textsOf(plan: StarterPlan, prefix: string): Map<string, string> {
  const texts = new Map<string, string>()
  const c = (name: string, text: string) => texts.set(name, C_HEAD + text)
  const service = plan.service !== undefined
  const power = plan.switches.some((s) => !s.service)
  texts.set('figures.h', figuresH(plan))
  c('packet.h', PACKET_H)
  c('sender.h', senderH({ cutout: plan.track.cutout !== undefined }))
  c('text.h', TEXT_H)
  c('turns.h', TURNS_H)
  c('turns.c', turnsC(plan.policy))
  c('serial.h', SERIAL_H)
  c('station.h', STATION_H)
  c('language.h', LANGUAGE_H)
  c('language.c', languageC({ power, service }))
  if (service) {
    c('detector.h', DETECTOR_H)
    c('service.h', SERVICE_H)
    c('service.c', SERVICE_C)
  }
  const sources = ['turns.c', 'language.c', ...(service ? ['service.c'] : [])]
  if (plan.chip) complete(plan, plan.chip, prefix, sources, texts, c)
  else {
    c('board.h', boardH({ service }))
    texts.set('Makefile', portableMakefile(sources))
  }
  texts.set('README.md', readme(plan, [...texts.keys()]))
  return new Map([...texts].map(([name, text]) => [name, sealed(text)]))
}

/** The operations track is watched, and nothing flows there for a part of the time. */
const isQuiet = ({ track, sensing }: StarterPlan) =>
  track.cutout !== undefined && sensing !== undefined && sensing.quietReadings > 0

/** What only a chip has whose registers are known. */
function complete(
  plan: StarterPlan,
  mcu: string,
  prefix: string,
  portable: readonly string[],
  texts: Map<string, string>,
  c: (name: string, text: string) => void,
): void {
  const { switches, sensing, service } = plan
  const bits = (o: StarterPlan['track'] | undefined) => o?.option.behaviour.startsWith('bit') ?? false
  texts.set('signal.h', signalH(plan))
  c('serial.c', serialC(plan.serial))
  if (switches.length > 0) {
    const quiet = isQuiet(plan)
    c('power.h', powerH({ quiet }))
    c('power.c', powerC(switches, sensing, { quiet }))
  }
  c(
    'main.c',
    mainC({
      power: switches.some((s) => !s.service),
      service: service !== undefined,
      watched: sensing !== undefined,
      bits: { track: bits(plan.track), service: bits(service) },
      cutout: plan.track.cutout !== undefined,
      quiet: isQuiet(plan),
    }),
  )
  const sources = ['main.c', ...portable, 'serial.c', ...(switches.length > 0 ? ['power.c'] : [])]
  const clockHz = plan.loaded.design.controller.clock.frequency
  texts.set('Makefile', makefile({ mcu, clockHz, sources }))
  const { text, runS } = trial(plan)
  texts.set('trial.stimulus', text)
  texts.set(
    'firmware.yaml',
    `${HASH_HEAD}# To stand in the design file.\n${firmwareYaml(plan, prefix, runS)}`,
  )
}
