/** The language of the starter firmware as patterns for the design's `firmware.commands`. */
import type { CommandsDesign } from '../../controller/index.js'
import type { StarterPlan } from './plan.js'

export function starterCommands({
  switches,
  service,
  serial,
}: Pick<StarterPlan, 'switches' | 'service' | 'serial'>): CommandsDesign {
  const power = switches.some((s) => !s.service)
  return {
    port: serial.port,
    end: '\\n',
    fullSpeed: 126,
    ramp: 0,
    speed: ['drive {address} at {speed} {direction:forward|backward}'],
    function: ['function {function} of {address} {state:on|off}'],
    stop: ['stop everything'],
    stopOne: ['stop {address}'],
    forget: ['forget {address}'],
    ...(power ? { powerOn: ['power on'], powerOff: ['power off'] } : {}),
    ...(service
      ? {
          write: ['write {value} to variable {cv}'],
          verify: ['verify variable {cv} is {value}'],
          read: ['read variable {cv}'],
          readAnswer: ['variable {cv} is {value}'],
          serviceOn: ['service on'],
          serviceOff: ['service off'],
          acknowledged: ['acknowledged'],
          unanswered: ['no acknowledgement'],
        }
      : {}),
  }
}

/** What the design file says with the default already. */
const DEFAULTS: Readonly<Record<string, unknown>> = { port: 0, end: '\\n', fullSpeed: 126, ramp: 0 }

/** `firmware:` as it stands in the design file, with the files of a folder. */
export function firmwareYaml(plan: StarterPlan, prefix: string, runS: number): string {
  const lines = Object.entries(starterCommands(plan)).flatMap(([key, value]) => {
    if (DEFAULTS[key] === value) return []
    const text = Array.isArray(value) ? value[0] : value
    return [`    ${key}: ${typeof text === 'number' ? text : JSON.stringify(text)}`]
  })
  return [
    'firmware:',
    `  file: ${JSON.stringify(`${prefix}station.elf`)}`,
    `  stimulus: ${JSON.stringify(`${prefix}trial.stimulus`)} # every command, and a short on each track that is watched`,
    `  runFor: ${runS} s`,
    '  commands:',
    ...lines,
    '',
  ].join('\n')
}
