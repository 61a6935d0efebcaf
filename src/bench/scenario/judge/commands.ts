/** Commands are acted on in time. */
import { BENCH_FINDINGS as SAYS } from '../../findings.data.js'
import type { ExpectationDesign } from '../design.js'
import { type Heard, heardIn } from '../heard.js'
import type { Played } from '../play.js'
import type { Found } from '../result.js'

/** Of the commands so many must come in time (common practice, no source; the demand of `command-latency`). */
const IN_TIME = 0.95

export function commandsActed(
  { within }: NonNullable<ExpectationDesign['commandsActed']>,
  { trace, setup, scenario }: Played,
): Found[] {
  const heard = heardIn(trace, scenario.lasts)
  const outputOf = (decoder: string) => {
    const district = setup.decoders.find((d) => d.name === decoder)?.district
    return setup.districts.find((d) => d.name === district)?.output
  }
  const hadPower = ({ decoder, timeUs, actedUs = timeUs }: Heard) => {
    const district = setup.decoders.find((d) => d.name === decoder)?.district
    return (
      district !== undefined &&
      trace.wasOn(district, timeUs) &&
      !trace.switchings(district).some((s) => !s.on && s.timeUs > timeUs && s.timeUs <= actedUs)
    )
  }
  const limit = Math.min(within, setup.latencyUs ?? within)
  const operations = setup.outputs.filter((o) => o.mode === 'operations').map((o) => o.name)
  const outputs = operations.filter((o) => heard.some((h) => (outputOf(h.decoder) ?? operations[0]) === o))
  return outputs.flatMap((output): Found[] => {
    const own = heard.filter((h) => (outputOf(h.decoder) ?? operations[0]) === output)
    // A command that another took the place of before its time was up cannot be late.
    const judged = own.filter((h) => h.actedUs !== undefined || h.timeUs + within <= h.untilUs)
    const clause = 'command-latency'
    const worst = Math.max(0, ...judged.map((h) => (h.actedUs ?? Number.POSITIVE_INFINITY) - h.timeUs))
    const deaf = judged.find((h) => h.actedUs === undefined)
    const late = judged.find((h) => h.actedUs !== undefined && h.actedUs - h.timeUs > within)
    const told = judged.filter((h) => !h.already)
    const high = Number.isFinite(worst) ? worst : within
    const base = { clause, about: output, value: { low: 0, high, unit: 'us', max: within } } as const
    if (deaf) {
      const { command, decoder, why = 'not received', timeUs } = deaf
      const finding = SAYS.find('never-acted', { command, decoder, why })
      return [{ ...base, verdict: 'broken', finding, timeUs }]
    }
    if (late) {
      const { command, decoder, timeUs } = late
      const finding = SAYS.find('acted-late', { command, decoder, tookUs: tookUs(late), within })
      return [{ ...base, verdict: 'broken', finding, timeUs }]
    }
    return asked(told.filter(hadPower), limit, base).concat(
      later(
        told.filter((h) => !hadPower(h)),
        output,
      ),
    )
  })
}

const tookUs = (h: Heard) => h.actedUs! - h.timeUs
const worstOf = (commands: readonly Heard[]) => Math.max(0, ...commands.map(tookUs))

/** What the design asks for binds, whatever the scenario asks for. */
function asked(
  commands: readonly Heard[],
  limit: number,
  { clause, about }: Pick<Found, 'clause' | 'about'>,
): Found[] {
  if (commands.length === 0) return []
  const worstUs = worstOf(commands)
  const slow = commands.filter((h) => tookUs(h) > limit)
  const base = { clause, about, value: { low: 0, high: worstUs, unit: 'us', max: limit } }
  if (commands.length - slow.length < IN_TIME * commands.length) {
    const { command, decoder, timeUs } = slow[0]!
    const finding = SAYS.find('acted-late', { command, decoder, tookUs: tookUs(slow[0]!), within: limit })
    return [{ ...base, verdict: 'broken', finding, timeUs }]
  }
  const finding = SAYS.find('acted', { count: commands.length, worstUs })
  return [{ ...base, verdict: 'met', finding }]
}

/** What waited for power shows nothing of the time that a command takes. */
function later(commands: readonly Heard[], about: string): Found[] {
  if (commands.length === 0) return []
  const finding = SAYS.find('acted-with-power', { count: commands.length, worstUs: worstOf(commands) })
  return [{ about, verdict: 'met', finding }]
}
