/** What is sent to the firmware in a step: words of the design’s own firmware, or of the starter where there is none. */
import { COMMAND_KINDS, type CommandKind, type CommandsDesign } from '../../controller/index.js'
import type { BookSources } from '../contents/sources.js'
import { starterCommands } from '../starter/commands.js'

const NAMES: Readonly<Record<CommandKind, string>> = {
  speed: 'drive a locomotive',
  function: 'switch a function',
  stop: 'stop everything',
  stopOne: 'stop one locomotive',
  forget: 'forget a locomotive',
  write: 'write a CV',
  verify: 'verify a CV',
  read: 'read a CV',
  powerOn: 'switch the track on',
  powerOff: 'switch the track off',
  serviceOn: 'switch the service track on',
  serviceOff: 'switch the service track off',
}

function commandsOf(s: BookSources): CommandsDesign | undefined {
  const { firmware } = s.loaded.design
  if (firmware) return firmware.commands
  return s.starter?.plan.chip === undefined ? undefined : starterCommands(s.starter.plan)
}

/** Fields as people read them; a pattern of bytes that are not text says nothing to a person. */
function words(pattern: string): string | undefined {
  const text = pattern
    .replace(/\{(address|speed|function|cv|value)\}/g, (_, field: string) => field.toUpperCase())
    .replace(/\{(?:direction|state):([^|}]+)\|[^}]+\}/g, '$1')
  return /[{}\\]/.test(text) ? undefined : text
}

/** @returns `undefined` where the design names no such command, or one that is not text. */
export function command(s: BookSources, kind: CommandKind): string | undefined {
  const given = commandsOf(s)?.[kind]
  const first = typeof given === 'string' ? given : given?.[0]
  return first === undefined ? undefined : words(first)
}

/** `switch the track on: power on`, for each command that is text. */
export function commandList(s: BookSources): string[] {
  return COMMAND_KINDS.flatMap((kind) => {
    const text = command(s, kind)
    return text === undefined ? [] : [`To ${NAMES[kind]}: ${text}${otherWay(s, kind)}`]
  })
}

/** The word for the opposite, and how a locomotive goes backward where there is none. */
function otherWay(s: BookSources, kind: CommandKind): string {
  const given = commandsOf(s)?.[kind]
  const pattern = (typeof given === 'string' ? given : given?.[0]) ?? ''
  const other = /\{(?:direction|state):[^|}]+\|([^|}]+)\}/.exec(pattern)?.[1]
  if (other !== undefined) return ` (or ${other})`
  return kind === 'speed' && pattern.includes('{speed}') ? ' (a negative SPEED is backward)' : ''
}

/** How the track of a district is switched on. */
export function switchOn(s: BookSources, isService: boolean): string {
  const text = command(s, isService ? 'serviceOn' : 'powerOn')
  if (text !== undefined) return `send “${text}” to the firmware`
  return s.loaded.design.firmware === undefined
    ? 'the instructions of the firmware name the command'
    : 'the design names no command for it; look it up in the instructions of its firmware'
}
