/** What the Trains stage draws: who is sent what when, and where trains stop, each to scale. */
import type { LoadedDesign } from '../../design/index.js'
import type { CaseResult, ResolvedTraffic, StopFigures, StopShot } from '../../traffic/index.js'

export interface TrainLane {
  /** Of the locomotive in the fleet; empty for what goes to no locomotive. */
  key: string
  name: string
  address: string
  meanUs: number | undefined
  worstUs: number | undefined
  /** 0: none; undefined: not given. */
  timeoutUs: number | undefined
  trainMm: number | undefined
}

export interface TrainPacket {
  lane: number
  fromMs: number
  toMs: number
  /** Index of speed, functions, turnouts, idle. */
  content: number
  /** A change or its repeat, not a refresh. */
  fresh: boolean
}

export interface TrainStop extends StopFigures {
  section: string | undefined
  /** Keys of the fleet. */
  trains: string[]
  trainMm: number | undefined
  /** Where the front is when its decoder hears the stop, at the median, mm behind the detector. */
  brakesMm: number
  /** Places of fronts that were simulated, mm. */
  frontsMm: number[]
}

export interface TrainsData {
  policy: string
  perSecond: number
  lanes: TrainLane[]
  packets: TrainPacket[]
  stops: TrainStop[]
}

const SHOWN_NS = 1e9

export function trainsData(
  { design }: LoadedDesign,
  traffic: ResolvedTraffic,
  result: CaseResult,
  stops: { figures: readonly StopFigures[]; shots: readonly StopShot[] },
): TrainsData {
  const { trace, names } = result
  const lanes = traffic.locomotives.map((l): TrainLane => {
    const refresh = result.refresh.find((r) => r.addressee === l.addressee)
    return {
      key: l.key,
      name: l.name,
      address: String(l.address),
      meanUs: refresh?.meanUs,
      worstUs: refresh?.worstUs,
      timeoutUs: refresh?.timeoutUs,
      trainMm: l.trainMm,
    }
  })
  const laneOf = new Map(lanes.map((lane, i) => [lane.name, i]))
  const packets: TrainPacket[] = []
  const from = trace.count > 0 ? trace.startNs[0]! : 0
  for (let i = 0; i < trace.count && trace.startNs[i]! - from < SHOWN_NS; i++) {
    const whom = trace.address[i]!
    const name = whom < 0 ? 'idle' : names[whom]!
    let lane = laneOf.get(name)
    if (lane === undefined) {
      lane = lanes.length
      lanes.push({
        key: '',
        name,
        address: '',
        meanUs: undefined,
        worstUs: undefined,
        timeoutUs: undefined,
        trainMm: undefined,
      })
      laneOf.set(name, lane)
    }
    packets.push({
      lane,
      fromMs: (trace.startNs[i]! - from) / 1e6,
      toMs: (trace.endNs[i]! - from) / 1e6,
      content: trace.content[i]!,
      fresh: trace.reason[i]! <= 1,
    })
  }
  return {
    policy: result.policy,
    perSecond: result.perSecond,
    lanes,
    packets,
    stops: stops.figures.map((figures, i): TrainStop => {
      const who = traffic.stops[i]!.trains.map((t) => traffic.locomotives[t]!)
      const lengths = who.flatMap((l) => l.trainMm ?? [])
      return {
        ...figures,
        section: design.traffic?.stops?.[figures.name]?.section,
        trains: [...new Set(who.map((l) => l.key))],
        trainMm: lengths.length > 0 ? Math.max(...lengths) : undefined,
        brakesMm: Math.min(figures.medianMm, (figures.speed * figures.medianUs) / 1e6),
        frontsMm: stops.shots.filter((s) => s.stop === i).map((s) => s.frontMm),
      }
    }),
  }
}
