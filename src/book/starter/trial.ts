/** A stimulus that tries everything the starter firmware can do, so that a proof has something to see. */
import { type Locomotive, resolveTraffic, trafficInputOf } from '../../traffic/index.js'
import { HASH_HEAD } from './places.js'
import type { SensePlan, StarterPlan } from './plan.js'

export interface Trial {
  text: string
  /** How long the run has to last for everything to be seen, s. */
  runS: number
}

/** When the first command comes, from one to the next, and between two acts, ms. */
const FIRST_MS = 400
const EACH_MS = 80
const PAUSE_MS = 400
/** An operation of service mode with its answer, ms; its pulse so much after the command. */
const OPERATION_MS = 400
const PULSE_MS = 85
/** S-9.2.3:2012 D. */
const ACKNOWLEDGEMENT = { amp: 0.075, forMs: 6 }
/** What a decoder and a usual train draw, A; common practice, no source. */
const DECODER_AMP = 0.02
/** Without a fleet: two addresses, a short one and a long one, and a time-out. */
const NOBODY = [
  { address: 3, functions: 4 },
  { address: 1247, functions: 4 },
]
const TIMEOUT_S = 4
/** Readings go on for so many times the trip's own time. */
const SHORT_LASTS = 3

export function trial(plan: StarterPlan): Trial {
  const script = new Script(plan.serial.port)
  const { sensing } = plan
  for (const s of sensing?.senses ?? []) script.volt(0, s, s.id === sensing?.service ? 0 : 0.1 * s.tripAmp)
  const fleet = fleetOf(plan)
  drive(script, fleet, 'forward')
  if (plan.service) service(script, plan)
  script.say('turnout 1 straight')
  script.say('turnout 12 diverging')
  script.wait(PAUSE_MS)
  script.say('stop everything', 'emergency stop')
  script.wait(PAUSE_MS)
  const power = plan.switches.some((s) => !s.service)
  if (power) {
    script.say('power off')
    script.wait(PAUSE_MS)
    script.say('power on')
    script.wait(PAUSE_MS)
  }
  for (const s of sensing?.senses ?? []) if (s.id !== sensing?.service) short(script, s)
  drive(script, fleet, 'backward')
  script.say(`stop ${fleet[0]!.address}`)
  const timeoutS = Math.max(TIMEOUT_S, ...fleet.map((l) => l.timeoutS))
  return { text: HASH_HEAD + script.text(), runS: Math.ceil(script.nowMs / 1000 + timeoutS + 0.5) }
}

interface Train {
  address: number
  functions: number
  timeoutS: number
}

function fleetOf({ loaded, policy }: StarterPlan): Train[] {
  const { design } = loaded
  const { fleet } = design
  const all: readonly Locomotive[] = fleet
    ? resolveTraffic(trafficInputOf({ ...design, fleet })).locomotives
    : []
  if (all.length === 0) return NOBODY.map((l) => ({ ...l, timeoutS: TIMEOUT_S }))
  return all.slice(0, policy.locos).map((l) => ({
    address: l.address,
    functions: l.design.functions,
    timeoutS: (l.design.timeout ?? 0) / 1e6,
  }))
}

function drive(script: Script, fleet: readonly Train[], direction: string): void {
  for (const [i, l] of fleet.entries()) {
    script.say(`drive ${l.address} at ${20 + ((i * 17) % 100)} ${direction}`)
    script.wait(EACH_MS)
    script.say(`function ${i % 2 === 0 ? 0 : l.functions} of ${l.address} on`)
    script.wait(EACH_MS)
  }
}

function short(script: Script, s: SensePlan): void {
  script.note(`a short on ${s.district}, and power again when it is gone`)
  script.volt(script.nowMs, s, 1.6 * s.tripAmp)
  script.wait(SHORT_LASTS * (s.tripUs / 1000) + 2)
  script.volt(script.nowMs, s, 0)
  script.wait(PAUSE_MS)
  script.say('power on')
  script.wait(PAUSE_MS)
}

/** Writes, verifies, reads nothing that is there, and an overload. */
function service(script: Script, { sensing }: StarterPlan): void {
  const s = sensing!.senses.find((x) => x.id === sensing!.service)!
  script.say('service on')
  script.volt(script.nowMs + 10, s, DECODER_AMP)
  script.wait(PAUSE_MS)
  for (const [text, answers] of [
    ['write 6 to variable 29', true],
    ['verify variable 29 is 6', true],
    ['verify variable 29 is 7', false],
  ] as const) {
    script.say(text, answers ? 'the decoder acknowledges' : 'silence')
    if (answers) {
      script.volt(script.nowMs + PULSE_MS, s, DECODER_AMP + ACKNOWLEDGEMENT.amp)
      script.volt(script.nowMs + PULSE_MS + ACKNOWLEDGEMENT.forMs, s, DECODER_AMP)
    }
    script.wait(OPERATION_MS)
  }
  script.note('a decoder with a fault: more than the service track may carry')
  script.volt(script.nowMs, s, 1.6 * s.tripAmp)
  script.wait(1.5 * (s.tripUs / 1000) + 2)
  script.volt(script.nowMs, s, 0)
  script.say('service off')
  script.wait(PAUSE_MS)
}

class Script {
  nowMs = FIRST_MS
  readonly #port: number
  readonly #lines: string[] = []

  constructor(port: number) {
    this.#port = port
  }

  wait(ms: number): void {
    this.nowMs += ms
  }

  say(text: string, note?: string): void {
    this.#at(this.nowMs, `serial ${this.#port} "${text}\\n"`, note)
  }

  volt(ms: number, s: SensePlan, amp: number): void {
    const perCount = s.referenceVolt / 1024
    const volt = Math.min(s.referenceVolt, s.zeroVolt + (amp / s.ampPerCount) * perCount)
    this.#at(ms, `volt ADC${s.channel} ${volt.toFixed(4)} V`)
  }

  note(text: string): void {
    this.#lines.push(`# ${text.replaceAll('\n', ' ')}`)
  }

  #at(ms: number, action: string, note?: string): void {
    this.#lines.push(`at ${Number(ms.toFixed(3))} ms ${action}${note === undefined ? '' : ` # ${note}`}`)
  }

  text(): string {
    return [
      '# What a trial run does to the firmware: every command, and a short on each track that it watches.',
      ...this.#lines,
      '',
    ].join('\n')
  }
}
