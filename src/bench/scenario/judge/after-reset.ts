/** After the controller has restarted every train stops, and the station is there again. */

import type { Finding } from '../../../finding/index.js'
import { BENCH_FINDINGS as SAYS } from '../../findings.data.js'
import { isRestart } from '../deed.js'
import type { ExpectationDesign } from '../design.js'
import type { Played } from '../play.js'
import type { Found } from '../result.js'
import type { DoneAct } from '../trace.js'

export function afterReset(
  { stops, obeys }: NonNullable<ExpectationDesign['afterReset']>,
  { trace, setup }: Played,
): Found[] {
  const operations = new Set(setup.outputs.filter((o) => o.mode === 'operations').map((o) => o.name))
  const decoders = setup.decoders.filter((d) =>
    operations.has(setup.districts.find((p) => p.name === d.district)?.output ?? ''),
  )
  return trace.done.filter((d) => isRestart(d.act)).map((reset) => one(reset))

  /** When a train is told to move, or another speed, after the restart; undefined where none is. */
  function startAfter(train: string, fromUs: number, toUs: number): number | undefined {
    const states = trace.states.get(train) ?? []
    const at = states.findIndex(
      (s, i) => s.timeUs > fromUs && s.timeUs < toUs && s.told !== 0 && s.told !== states[i - 1]?.told,
    )
    return states[at]?.timeUs
  }

  function one(reset: DoneAct): Found {
    const restartUs = reset.timeUs + (reset.act.hold?.lasts ?? 0)
    const next = trace.done.find((d) => d.timeUs >= restartUs + stops && (d.act.drive?.speed ?? 0) > 0)
    const train = next?.act.drive?.train
    const plan = decoders.find((d) => d.name === train)
    const output = setup.districts.find((p) => p.name === (plan ?? decoders[0])?.district)?.output ?? ''
    const clause = 'start-up'
    const about = output
    const none = (why: string): Found => {
      const finding = SAYS.find('not-run', { scenario: 'a restart of the controller', why })
      return { clause, about, verdict: 'not shown', finding }
    }
    const broken = (finding: Finding): Found => {
      const value = { low: 0, high: 1, unit: 'packets' }
      return { clause, about, verdict: 'broken', value, finding, timeUs: restartUs }
    }
    // Where nothing moved before, nothing is shown by its standing still.
    if (!decoders.some((d) => trace.stateAt(d.name, reset.timeUs)?.told))
      return none('no train moved before it')
    if (!next || !plan) return none('no train was commanded after it')
    const lastUs = next.timeUs
    // Also while others may still stop: rails without a signal make trains run that take it as analog power.
    const started = decoders
      .map((d) => ({ d, at: startAfter(d.name, restartUs, lastUs) }))
      .find(({ at }) => at !== undefined)
    if (started)
      return broken(
        SAYS.find('moves-after-restart', { decoder: started.d.name, atUs: started.at! - restartUs }),
      )
    const moving = decoders
      .map((d) => ({
        d,
        move: trace.moves(d.name).find((m) => m.toUs > restartUs + stops && m.fromUs < lastUs),
      }))
      .find(({ move }) => move !== undefined)
    if (moving) {
      const atUs = Math.max(stops, moving.move!.fromUs - restartUs)
      return broken(SAYS.find('moves-after-restart', { decoder: moving.d.name, atUs }))
    }
    // A station that stays silent stops every train too: it has to come back, and obey.
    const sent = trace.ears.get(output)?.packets.some((p) => p.endUs > restartUs && p.endUs <= lastUs + obeys)
    if (!sent) return broken(SAYS.find('silent-after-restart', { watchedUs: lastUs + obeys - restartUs }))
    if (!trace.wasOn(plan.district, lastUs)) {
      const told = trace.done.some((d) => d.timeUs >= restartUs && d.timeUs <= lastUs && d.act.power === 'on')
      if (told) return broken(SAYS.find('dark-after-restart', { district: plan.district }))
      return none(`${plan.district} has no power after it, and no act asked for it`)
    }
    const obeyed = trace.moves(plan.name).find((m) => m.fromUs >= lastUs && m.fromUs <= lastUs + obeys)
    if (!obeyed) return broken(SAYS.find('deaf-after-restart', { decoder: plan.name, waitedUs: obeys }))
    const stoppedUs = Math.max(
      0,
      ...decoders.flatMap((d) =>
        trace.moves(d.name).flatMap((m) => (m.fromUs < lastUs ? [m.toUs - restartUs] : [])),
      ),
    )
    return {
      clause,
      about,
      verdict: 'met',
      value: { low: 0, high: 0, unit: 'packets' },
      finding: SAYS.find('still-after-restart', { stoppedUs, decoder: plan.name }),
      timeUs: restartUs,
    }
  }
}
