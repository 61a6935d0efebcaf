/** Commands are acted on in time, and nothing moves without one. */
import { BENCH_FINDINGS as SAYS } from '../../findings.data.js'
import { onService } from '../check.js'
import type { ExpectationDesign } from '../design.js'
import { type Heard, heardIn } from '../heard.js'
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
    const judged = own.filter(
      (h) => h.actedUs !== undefined || h.timeUs + within <= endOf(h, own, scenario.lasts),
    )
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

/** Until when a command could be acted on: the next of the same decoder, or the end. */
function endOf(h: Heard, all: readonly Heard[], lastsUs: number): number {
  return all.find((o) => o.decoder === h.decoder && o.timeUs > h.timeUs)?.timeUs ?? lastsUs
}

/** A command reaches its decoder so long after its last byte at the most before a movement is put down to it, us. */
const NEAR_US = 2e6

export function onlyCommanded(_: true | boolean, { trace, setup }: Played): Found[] {
  const commands = trace.commands()
  const found = setup.decoders.flatMap((d): Found[] => {
    const about = d.name
    const moves = trace.moves(d.name)
    const wrong = moves.find(
      (m) =>
        !commands.some(
          (c) =>
            c.kind === 'speed' &&
            c.address === d.address &&
            c.speed > 0 &&
            c.timeUs <= m.fromUs &&
            m.fromUs - c.timeUs <= NEAR_US,
        ),
    )
    if (wrong)
      return [
        {
          about,
          verdict: 'broken',
          finding: SAYS.find('moves-uncommanded', { decoder: d.name, atUs: wrong.fromUs }),
          timeUs: wrong.fromUs,
        },
      ]
    // The one on the service track hears what is sent there.
    const driven =
      d.name === onService(setup)?.name
        ? undefined
        : commands.find((c) => c.kind === 'speed' && c.address === d.address && c.speed > 0)
    if (driven && moves.length === 0)
      return [
        {
          about,
          verdict: 'broken',
          finding: SAYS.find('never-moves', { decoder: d.name, command: driven.text }),
          timeUs: driven.timeUs,
        },
      ]
    return []
  })
  if (found.length > 0) return found
  // Silence shows nothing: with no packet on any track nothing could have moved.
  const packets = [...trace.ears.values()].reduce((sum, ear) => sum + ear.count, 0)
  const districts = setup.districts.filter((d) => trace.switchings(d.name).some((s) => s.on))
  if (packets === 0 || districts.length === 0)
    return [{ about: 'every track', verdict: 'not shown', finding: SAYS.find('nothing-sent', {}) }]
  const finding = SAYS.find('only-commanded', { trains: setup.decoders.length })
  return [{ about: 'every track', verdict: 'met', finding }]
}
