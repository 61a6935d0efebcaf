/**
 * What a run does not show although it was played: where no consistent state of all limits was found the currents may be
 * wrong, and all that they decide; where the firmware uses what is not simulated, nothing is known.
 */
import type { Finding } from '../../../finding/index.js'
import { isShown, notShown, type Statement } from '../../../standard/index.js'
import { BENCH_FINDINGS as SAYS } from '../../findings.data.js'
import type { CoupledRun } from '../../station/coupled.js'
import type { ExpectationDesign } from '../design.js'
import type { Found } from '../result.js'

/** What a run shows of signal and traffic by the power on the rails; the rest the program makes from its clock, whatever flows. */
const BY_POWER = new Set(['interruption', 'start-up', 'refresh', 'command-latency', 'service-sequence'])

/** Why a run shows nothing: the firmware uses what is not simulated and can move a pin that goes to a driver, or falsify a current. */
export function unmodelledIn({ setup, controller }: CoupledRun): Finding | undefined {
  const { outputs, districts } = setup
  const pins = [
    ...outputs.flatMap((o) => [o.pin, o.inverted]),
    ...districts.flatMap(({ driver: d, sense }) => [
      sense?.pin,
      d.direction,
      d.inverted,
      ...d.enable,
      ...(d.enableLow ?? []),
      ...d.brake,
    ]),
  ]
  return controller.unmodelled(pins.filter((pin) => pin !== undefined))
}

/** What was found, unless something that is not simulated could have made it otherwise. */
export function foundIf(unmodelled: Finding | undefined, found: readonly Found[]): Found[] {
  if (unmodelled === undefined) return [...found]
  return found.map(({ value: _, timeUs: __, ...rest }) => ({
    ...rest,
    verdict: 'not shown',
    finding: unmodelled,
  }))
}

export function statedIf(unmodelled: Finding | undefined, s: Statement): Statement {
  return unmodelled && isShown(s) ? notShown(s.clause, s.origin, unmodelled, { about: s.about }) : s
}

/** @param fromUs from then on the currents are doubtful; Infinity where they never are */
export function doubted(key: keyof ExpectationDesign, found: readonly Found[], fromUs: number): Found[] {
  if (fromUs === Number.POSITIVE_INFINITY || key === 'signal') return [...found]
  return found.map((f) => {
    // What was broken before stays so.
    if (f.verdict === 'broken' && f.timeUs !== undefined && f.timeUs < fromUs) return f
    const { value: _, timeUs: __, ...rest } = f
    return { ...rest, verdict: 'not shown', finding: SAYS.find('doubtful', { atUs: fromUs }) }
  })
}

export function doubtedStatement(s: Statement, fromUs: number): Statement {
  if (fromUs === Number.POSITIVE_INFINITY || !isShown(s) || !BY_POWER.has(s.clause)) return s
  return notShown(s.clause, s.origin, SAYS.find('doubtful', { atUs: fromUs }), { about: s.about })
}
