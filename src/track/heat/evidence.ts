/** Evidence about heat that lasts. */
import { type Evidence, marginWithin, type Profile, verdictOfCases } from '../../standard/index.js'
import { trackFindings } from '../findings.data.js'
import type { TrackReport } from '../report.js'
import type { HotConductor } from './conductors.js'
import type { HotJoint, UnratedSwitch } from './joints.js'
import { type HotTerminator, terminatorShare } from './terminators.js'

/** Where no profile is given, °C: that of PVC insulation, as in the clause. */
const WITHOUT_PROFILE_C = 70

export function hottestAllowed(profile: Profile | undefined): number {
  return profile?.clauses['conductor-heat'].sender.max ?? WITHOUT_PROFILE_C
}

export function heatEvidence({ heat, districts }: TrackReport, profile: Profile | undefined): Evidence[] {
  const limitC = hottestAllowed(profile)
  return districts.flatMap((d) => {
    if (d.lengthMm === 0) return []
    const hot = heat.conductors.find((c) => c.district === d.name)
    const joint = heat.joints.find((j) => j.district === d.name)
    const joints = jointEvidence(d.name, joint, heat.unrated)
    const ends = heat.terminators
      .filter((t) => t.district === d.name)
      .map(terminatorEvidence)
      .reduce(worse, joints)
    return [...(hot ? [conductorEvidence(hot, limitC)] : []), ends]
  })
}

function conductorEvidence(hot: HotConductor, limitC: number): Evidence {
  const verdict = verdictOfCases(hot.highC <= limitC, hot.lowC <= limitC)
  const finding = trackFindings.find('conductor-heat', {
    district: hot.district,
    what: hot.what,
    conductor: hot.conductor,
    amp: hot.amp,
    lowC: hot.lowC,
    highC: hot.highC,
    limitC,
    laying: hot.laying,
    atMost: hot.atMost,
    verdict,
  })
  return {
    clause: 'conductor-heat',
    origin: 'calculated',
    verdict,
    value: { low: hot.lowC, high: hot.highC, unit: '°C' },
    limits: { max: limitC },
    margin: Math.max(-1, marginWithin(hot.lowC, hot.highC, { max: limitC })),
    about: hot.district,
    where: { section: hot.section },
    because: finding.sentence,
    finding,
  }
}

function jointEvidence(
  district: string,
  joint: HotJoint | undefined,
  switches: readonly UnratedSwitch[],
): Evidence {
  const known = joint ? verdictOfCases(joint.highShare <= 1, joint.lowShare <= 1) : 'met'
  const unrated = known === 'met' ? switches.find((s) => s.district === district) : undefined
  const verdict = unrated ? 'undecided' : known
  const finding = unrated
    ? trackFindings.find('switch-unrated', { ...unrated })
    : joint
      ? trackFindings.find('joint-heat', {
          district,
          kind: joint.kind,
          name: joint.name,
          amp: joint.amp,
          ohm: joint.ohm,
          riseK: joint.riseK,
          ratedAmp: joint.ratedAmp,
          share: joint.highShare,
          verdict,
        })
      : trackFindings.find('no-joints', { district })
  return {
    clause: 'joint-heat',
    origin: 'calculated',
    verdict,
    value: { low: joint?.lowShare ?? 0, high: joint?.highShare ?? 0, unit: 'share' },
    margin: unrated ? 0 : Math.max(-1, marginWithin(joint?.lowShare ?? 0, joint?.highShare ?? 0, { max: 1 })),
    about: district,
    ...(joint ? { where: { section: joint.name } } : {}),
    because: finding.sentence,
    finding,
  }
}

const WORSE = { met: 0, undecided: 1, broken: 2, 'not shown': 0 } as const

function worse(a: Evidence, b: Evidence): Evidence {
  const by = WORSE[b.verdict] - WORSE[a.verdict]
  return by > 0 || (by === 0 && b.margin < a.margin) ? b : a
}

function terminatorEvidence(hot: HotTerminator): Evidence {
  const { low, high } = terminatorShare(hot)
  const finding = trackFindings.find('terminator-heat', {
    district: hot.district,
    run: hot.run,
    watt: hot.watt,
    ratedWatt: hot.ratedWatt,
  })
  return {
    clause: 'joint-heat',
    origin: 'calculated',
    verdict: verdictOfCases(high <= 1, low <= 1),
    value: { low, high, unit: 'share' },
    margin: Math.max(-1, marginWithin(low, high, { max: 1 })),
    about: hot.district,
    because: finding.sentence,
    finding,
  }
}
