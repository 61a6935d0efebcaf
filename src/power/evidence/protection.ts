/** Evidence on what else a short and power-up meet: current sense, fuse, inrush. */
import type { Evidence } from '../../standard/index.js'
import { type CornerClause, cornerEvidence } from '../corner-evidence.js'
import type { DistrictModel } from '../district-model.js'
import type { DistrictParts } from '../district-report.js'
import { POWER_FINDINGS } from '../findings.data.js'
import type { FuseModel, FuseQuantity } from '../fuse.js'
import type { PowerUp, PowerUpQuantity } from '../power-up.js'
import type { SenseStressModel, StressQuantity } from '../sense-stress.js'
import { hasNoLimit } from '../supply-behaviour.js'

const SHARE = { unit: 'share', most: 1000 } as const

export function senseStressClause(m: DistrictModel, stress: SenseStressModel): CornerClause<StressQuantity> {
  return {
    ...SHARE,
    clause: 'sense-stress',
    about: m.stage.name,
    question: stress.question,
    figure: (v) => stress.stress(v).share,
    finding: ({ worst }) => {
      const s = stress.stress(worst.values)
      const { pinMax, inputMax, ratedWatt } = worst.values
      return POWER_FINDINGS.find('sense-stress', {
        ...s,
        pinMaxVolt: pinMax,
        inputMaxVolt: inputMax,
        ratedWatt,
      })
    },
  }
}

export function fuseClause(
  m: DistrictModel,
  fuse: FuseModel,
  loadAmp: number,
  supplyWorstAmp: number,
): CornerClause<FuseQuantity> {
  return {
    ...SHARE,
    clause: 'fuse',
    about: m.stage.name,
    question: fuse.question,
    figure: (v) => 1 - fuse.outcome(v).margin,
    finding: ({ worst }) => {
      const { what, amp, opensS, margin } = fuse.outcome(worst.values)
      const { ratingAmp, breaksAmp, kind } = fuse
      const { withstands: breaksVolt, volt: supplyVolt } = worst.values
      const { supply, supplyName } = m.stage
      const says = {
        what,
        amp,
        opensS,
        loadAmp,
        holds: margin >= 0,
        breaksVolt,
        supplyVolt,
        supply: supplyName,
        supplyFuseAmp: supply.fuse ?? ratingAmp,
        supplyKind: supply.fuseKind,
        supplyWorstAmp,
        airC: m.ambientC,
      }
      return POWER_FINDINGS.find('fuse', { kind, ratingAmp, breaksAmp, ...says })
    },
  }
}

/** What a supply does at power-up beyond its limit. */
const AT_POWER_UP = {
  constant: 'the supply holds the current meanwhile',
  foldback: 'against a foldback supply, which may latch at a low voltage',
  hiccup: 'against a hiccup supply, which may switch off before the capacitors are charged and never start',
  battery: 'a battery does not limit the current',
  none: 'the supply does not limit the current',
  unknown: 'against a supply that may do anything beyond its rating',
} as const

export function inrushClause(m: DistrictModel, up: PowerUp): CornerClause<PowerUpQuantity> {
  return {
    ...SHARE,
    clause: 'inrush',
    about: m.stage.name,
    question: up.question,
    figure: (v) => 1 - up.run(v).margin,
    finding: ({ worst }) => {
      const run = up.run(worst.values)
      return POWER_FINDINGS.find('inrush', {
        peakAmp: run.peakAmp,
        lastsUs: run.found.lastsUs,
        decoders: up.report.decoders,
        together: worst.values.together > 0 ? up.report.together : [],
        what: run.because,
        tripsAtUs: run.tripsAtUs ?? Number.POSITIVE_INFINITY,
        junctionC: run.junctionC ?? Number.NaN,
        supply: AT_POWER_UP[m.stage.supply.limit],
      })
    },
  }
}

export function protectionEvidence(
  m: DistrictModel,
  parts: DistrictParts,
  supplyWorstAmp: number,
): Evidence[] {
  const list: Evidence[] = []
  if (parts.stress) list.push(cornerEvidence(senseStressClause(m, parts.stress)))
  if (parts.powerUp) list.push(cornerEvidence(inrushClause(m, parts.powerUp)))
  const loadAmp = parts.fuse?.own ? (m.load?.worstAmp ?? 0) : supplyWorstAmp
  if (parts.fuse) list.push(cornerEvidence(fuseClause(m, parts.fuse, loadAmp, supplyWorstAmp)))
  else if (hasNoLimit(m.stage.supply.limit)) {
    const finding = POWER_FINDINGS.find('no-fuse', { supply: m.stage.supplyName })
    list.push({
      clause: 'fuse',
      origin: 'calculated',
      verdict: 'broken',
      value: { low: 1000, high: 1000, unit: 'share' },
      margin: -1,
      about: m.stage.name,
      because: finding.sentence,
      finding,
    })
  }
  return list
}
