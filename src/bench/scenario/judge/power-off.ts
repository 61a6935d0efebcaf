/** A command to switch track power off is obeyed: its districts lose power in time, and stay without. */
import type { Command } from '../../../controller/index.js'
import { BENCH_FINDINGS as SAYS } from '../../findings.data.js'
import type { ExpectationDesign } from '../design.js'
import type { Played } from '../play.js'
import type { Found } from '../result.js'

/** What a command switches off. */
const SWITCHES: Partial<Record<Command['kind'], 'operations' | 'service'>> = {
  powerOff: 'operations',
  serviceOff: 'service',
}
/** A receiver has its last byte in the middle of the stop bit, and some programs act on it before it is noted, us. */
const ENDS_EARLY_US = 1000
const ASKS_FOR_POWER: ReadonlySet<Command['kind']> = new Set([
  'powerOn',
  'serviceOn',
  'write',
  'verify',
  'read',
])

export function powerOff(
  { within }: NonNullable<ExpectationDesign['powerOff']>,
  { trace, setup, scenario }: Played,
): Found[] {
  const commands = trace.commands()
  return commands.flatMap((c, i): Found[] => {
    const mode = SWITCHES[c.kind]
    if (!mode) return []
    const outputs = new Set(setup.outputs.filter((o) => o.mode === mode).map((o) => o.name))
    const districts = setup.districts.filter((d) => outputs.has(d.output))
    const clause = 'command-latency'
    const next = commands.slice(i + 1).find((n) => ASKS_FOR_POWER.has(n.kind))
    const saidUs = c.timeUs - ENDS_EARLY_US
    const untilUs = next ? next.timeUs - ENDS_EARLY_US : scenario.lasts
    const dueUs = c.timeUs + within
    const on = districts.filter((d) => trace.wasOn(d.name, saidUs))
    // Power that was off already, or asked for again at once, shows nothing.
    if (on.length === 0 || untilUs < dueUs) return []
    const offUs = ({ name }: { name: string }) =>
      trace.switchings(name).find((s) => !s.on && s.timeUs >= saidUs)?.timeUs ?? Number.POSITIVE_INFINITY
    const stays = districts.find(
      (d) =>
        trace.wasOn(d.name, dueUs) ||
        trace.switchings(d.name).some((s) => s.on && s.timeUs > dueUs && s.timeUs < untilUs),
    )
    const about = (stays ?? on[0]!).output
    if (stays) {
      const waitedUs = untilUs - c.timeUs
      const value = { low: waitedUs, high: waitedUs, unit: 'us', max: within }
      const finding = SAYS.find('power-off-ignored', { district: stays.name, waitedUs })
      return [{ clause, about, verdict: 'broken', value, finding, timeUs: c.timeUs }]
    }
    const tookUs = Math.max(0, Math.max(...on.map(offUs)) - c.timeUs)
    // What the design asks for binds, whatever the scenario asks for.
    const max = Math.min(within, setup.latencyUs ?? within)
    const value = { low: 0, high: tookUs, unit: 'us', max }
    if (tookUs <= max)
      return [{ clause, about, verdict: 'met', value, finding: SAYS.find('power-off-obeyed', { tookUs }) }]
    const finding = SAYS.find('power-off-late', { tookUs, within: max })
    return [{ clause, about, verdict: 'broken', value, finding, timeUs: c.timeUs }]
  })
}
