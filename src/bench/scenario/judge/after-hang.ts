/** After the program has hung nothing runs away: no steady level stays on the rails, and every train stops. */
import type { Finding } from '../../../finding/index.js'
import { BENCH_FINDINGS as SAYS } from '../../findings.data.js'
import { isHang } from '../../station/acts.js'
import type { Played } from '../play.js'
import type { Found } from '../result.js'
import type { DoneAct } from '../trace.js'

/** One state of a decoder and what is noted of its rails are no further apart, us. */
const SAME_TIME_US = 20e3

export function afterHang(_: boolean, played: Played): Found[] {
  return played.trace.done
    .filter((d) => d.act.hold && isHang(d.act.hold.why))
    .map((hang) => one(hang, played))
}

function one({ timeUs: hungUs, act }: DoneAct, { trace, setup, scenario }: Played): Found {
  const operations = new Set(setup.outputs.filter((o) => o.mode === 'operations').map((o) => o.name))
  const districts = setup.districts.filter((d) => operations.has(d.output))
  const decoders = setup.decoders.filter((d) => districts.some((p) => p.name === d.district))
  const untilUs = Math.min(scenario.lasts, hungUs + act.hold!.lasts)
  const about = districts[0]?.output ?? 'every track'
  // That the rails have no signal is a break of it; that nothing of the kind happens is no proof of the clause.
  const broken = (finding: Finding): Found => {
    const value = { low: 1, high: 1, unit: 'stretches' }
    return { clause: 'interruption', about, verdict: 'broken', value, finding, timeUs: hungUs }
  }
  const steady = trace.run.steady.stretches.find(
    (s) => districts.some((d) => d.name === s.district) && s.toUs > hungUs && s.fromUs < untilUs,
  )
  if (steady) {
    const lastedUs = Math.min(steady.toUs, untilUs) - Math.max(steady.fromUs, hungUs)
    return broken(SAYS.find('level-after-hang', { district: steady.district, lastedUs }))
  }
  const moved = decoders.filter((d) => trace.stateAt(d.name, hungUs)?.told)
  if (moved.length === 0) {
    const why = 'no train moved before it'
    const finding = SAYS.find('not-run', { scenario: 'a program that hangs', why })
    return { about, verdict: 'not shown', finding }
  }
  for (const { name: decoder, timeoutUs } of decoders) {
    const started = trace.moves(decoder).find((m) => m.fromUs > hungUs && m.fromUs < untilUs)
    if (started) return broken(SAYS.find('moves-after-hang', { decoder, atUs: started.fromUs - hungUs }))
    const watchedUs = untilUs - hungUs
    if (!trace.stateAt(decoder, untilUs)?.told) continue
    const finding = SAYS.find('runs-after-hang', { decoder, watchedUs })
    // Without a time-out in the design nobody knows whether the decoder would have stopped.
    return timeoutUs > 0 ? broken(finding) : { about, verdict: 'not shown', finding, timeUs: hungUs }
  }
  const lastUs = Math.max(
    ...moved.flatMap((d) =>
      trace.moves(d.name).flatMap((m) => (m.fromUs <= hungUs && m.toUs > hungUs ? [m.toUs] : [])),
    ),
  )
  const timedOut = moved.some((d) =>
    trace.run
      .decoder(d.name)!
      .events.some((e) => e.kind === 'timed out' && Math.abs(e.timeUs - lastUs) <= SAME_TIME_US),
  )
  const restarted = trace.run.machine.restarts.some((r) => r.cause === 'watchdog')
  const how = timedOut ? 'time-out' : restarted ? 'restart' : 'power'
  const finding = SAYS.find('still-after-hang', { stoppedUs: lastUs - hungUs, how })
  return { about, verdict: 'met', finding, timeUs: hungUs }
}
