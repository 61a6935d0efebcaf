/** Trains by kind: as they are written in an answer, and as they go into the file. */
import { SCALES } from '../standard/index.js'
import type { Answers } from './answers.js'
import { SCALE_CURRENT, TRAIN_KINDS } from './parts.data.js'
import type { Plan } from './plan.js'

/** `2 local, 1 shunter`. */
export function trainsText(trains: ReadonlyMap<string, number>): string {
  return [...trains]
    .filter(([, count]) => count > 0)
    .map(([kind, count]) => `${count} ${kind}`)
    .join(', ')
}

export interface Train {
  name: string
  runningAmp: number
  stallAmp: number
  lightsAmp: number
  soundAmp: number
  /** What it may draw for long. */
  worstAmp: number
  lengthMm: number
  section: string
  address: number
  functions: number
  acceleration: number
  deceleration: number
  topKmh: number
}

/** The worst credible load: all run, and the one that takes most more then is stalled. */
export function worstLoadAmp(trains: readonly Pick<Train, 'worstAmp' | 'runningAmp' | 'stallAmp'>[]): number {
  const stalled = Math.max(0, ...trains.map((t) => t.stallAmp - t.runningAmp))
  return trains.reduce((sum, t) => sum + t.worstAmp, 0) + stalled
}

const r2 = (value: number) => Math.round(value * 100) / 100

/** The trains of the answers, each standing in a section of its own as far as there are. */
export function trainsOf(a: Answers, plan: Plan): Train[] {
  const times = SCALE_CURRENT[a.scale]
  const size = 87 / SCALES[a.scale].ratio
  const trains: Train[] = []
  for (const kind of TRAIN_KINDS) {
    const count = a.trains.get(kind.id) ?? 0
    for (let i = 1; i <= count; i++) {
      const at = trains.length
      const [runningAmp, stallAmp] = [r2(kind.runningAmp * times), r2(kind.stallAmp * times)]
      const [lightsAmp, soundAmp] = [r2(kind.lightsAmp * times), r2(kind.soundAmp * times)]
      trains.push({
        name: count > 1 ? `${kind.id} ${i}` : kind.id,
        runningAmp,
        stallAmp,
        lightsAmp,
        soundAmp,
        worstAmp: runningAmp + lightsAmp + soundAmp,
        lengthMm: Math.round((kind.lengthMm * size) / 10) * 10,
        section: plan.standing[at % plan.standing.length]!,
        address: at === 0 ? 3 : 3 + 7 * at,
        functions: kind.functions,
        acceleration: kind.acceleration,
        deceleration: kind.deceleration,
        topKmh: kind.topKmh,
      })
    }
  }
  return trains
}
