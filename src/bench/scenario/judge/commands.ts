/** Commands are acted on in time. */
import { BENCH_FINDINGS as SAYS } from '../../findings.data.js'
import type { ExpectationDesign } from '../design.js'
import { heardIn } from '../heard.js'
import type { Played } from '../play.js'
import type { Found } from '../result.js'

export function commandsActed(
  { within }: NonNullable<ExpectationDesign['commandsActed']>,
  { trace, setup, scenario }: Played,
): Found[] {
  const heard = heardIn(trace, scenario.lasts)
  const outputOf = (decoder: string) => {
    const district = setup.decoders.find((d) => d.name === decoder)?.district
    return setup.districts.find((d) => d.name === district)?.output
  }
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
    const tookUs = Number.isFinite(worst) ? worst : within
    const base = { clause, about: output, value: { low: 0, high: tookUs, unit: 'us', max: within } } as const
    if (deaf) {
      const { command, decoder, why = 'not received', timeUs } = deaf
      const finding = SAYS.find('never-acted', { command, decoder, why })
      return [{ ...base, verdict: 'broken', finding, timeUs }]
    }
    if (late) {
      const { command, decoder, timeUs } = late
      const finding = SAYS.find('acted-late', { command, decoder, tookUs: late.actedUs! - timeUs, within })
      return [{ ...base, verdict: 'broken', finding, timeUs }]
    }
    if (told.length === 0) return []
    return [{ ...base, verdict: 'met', finding: SAYS.find('acted', { count: told.length, worstUs: worst }) }]
  })
}
