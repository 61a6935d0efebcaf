/**
 * At which level both pins of an output are equal in its cut-outs. A cut-out joins the rails (RCN-217:2019, from memory), and not
 * every driver does that while both of its inputs are low.
 */
import type { SimulatedController } from '../controller/index.js'
import type { LoadedDesign } from '../design/index.js'
import { allStages } from '../power/index.js'
import { isShown, notShown, type Statement, senderLimits } from '../standard/index.js'
import { PROOF_FINDINGS } from './findings.data.js'
import type { PinnedOutput } from './outputs.js'

/** Equal for a shorter part of the shortest cut-out, the pins only pass each other. */
const LEAST_SHARE = 0.25
/** Equal for longer than this many cut-outs, the power is off. */
const MOST_CUTOUTS = 2

/** Counts the cut-outs of an output that are made with both pins low, while its firmware runs. */
export class CutoutLevels {
  low = 0

  constructor(machine: SimulatedController, { pin, inverted, profile, cutout }: PinnedOutput) {
    if (!cutout || inverted === undefined) return
    const { max: startUs = 0 } = senderLimits(profile.clauses['cutout-start'], 'operations')
    const { min: leastUs = 0, max: endUs = 0 } = senderLimits(profile.clauses['cutout-end'], 'operations')
    const levels = [machine.levelOf(pin), machine.levelOf(inverted)]
    let lowSinceUs = Number.NaN
    const listen = (which: 0 | 1, name: string) =>
      machine.listen(name, (level, at) => {
        levels[which] = level
        const isLow = levels[0] === 0 && levels[1] === 0
        if (isLow) {
          lowSinceUs = machine.usAtCycle(at)
          return
        }
        const us = machine.usAtCycle(at) - lowSinceUs
        lowSinceUs = Number.NaN
        if (us >= LEAST_SHARE * (leastUs - startUs) && us <= MOST_CUTOUTS * endUs) this.low++
      })
    listen(0, pin)
    listen(1, inverted)
  }
}

/** Statements about an output's cut-outs, with what its drivers do in those that are made with both pins low. */
export function withCutoutLevels(
  statements: readonly Statement[],
  low: number,
  output: string,
  { design }: LoadedDesign,
): Statement[] {
  const { power, signal } = design
  if (low === 0 || !power) return [...statements]
  const drivers = allStages(power, signal).filter(
    ({ output: of, driver }) => of === output && driver.pins?.some((p) => p.role === 'inverted'),
  )
  const open = drivers.filter((s) => s.model.bothLow === 'open')
  const unknown = drivers.filter((s) => s.model.bothLow === undefined)
  const [first] = open.length > 0 ? open : unknown
  if (!first) return [...statements]
  const params = { count: low, district: first.name, part: first.model.name }
  return statements.map((s): Statement => {
    if (s.clause !== 'cutout-start' || !isShown(s) || s.verdict === 'broken') return s
    if (open.length === 0)
      return notShown(s.clause, s.origin, PROOF_FINDINGS.find('cutout-unknown', params), { about: output })
    const finding = PROOF_FINDINGS.find('cutout-open', params)
    return { ...s, verdict: 'broken', margin: -1, finding, because: finding.sentence }
  })
}
