/** The parts of which plans are made: bus runs, rows of sections with their feeders, turnouts. Lengths in mm. */
import { startFindings } from '../design/index.js'
import { SCALES } from '../standard/index.js'
import { AnswerError, type Answers } from './answers.js'
import type { Plan, PlanSection, PlanTurnout, Xy } from './plan.js'
import { shapeOf } from './shapes.data.js'

export const r1 = (mm: number) => Math.round(mm)

/** A run under construction: where the next feeder is tapped. */
class Run {
  readonly name: string
  readonly district: number
  readonly isReversed: boolean
  mm: number

  constructor(name: string, district: number, startMm = 500, isReversed = false) {
    this.name = name
    this.district = district
    this.isReversed = isReversed
    this.mm = startMm
  }
}

/** Lays out rows of sections with their feeders along bus runs. */
export class PlanBuilder {
  protected readonly a: Answers
  protected readonly turnoutMm: number
  protected readonly sections: PlanSection[] = []
  protected readonly turnouts: PlanTurnout[] = []
  protected readonly runs: Run[] = []
  protected readonly standing: { name: string; mm: number }[] = []
  protected deadEnd: Plan['deadEnd']
  protected loopMm: number | undefined
  protected says = ''

  constructor(a: Answers) {
    this.a = a
    const { ratio } = SCALES[a.scale]
    this.turnoutMm = Math.round((230 * 87) / ratio / 10) * 10
    const { leastRatio, leastMm, name } = shapeOf(a.shape)
    const least = Math.max((leastMm * 87) / ratio, leastRatio * a.depth)
    if (a.length < least - 1)
      throw new AnswerError(
        'length',
        startFindings.find('bad-value', {
          question: 'length',
          given: `${r1(a.length)} mm`,
          expected: `at least ${Math.ceil(least / 50) * 50} mm for a ${name} ${r1(a.depth)} mm deep in this scale`,
        }).sentence,
      )
  }

  protected second(): number {
    return this.a.districts > 1 ? 1 : 0
  }

  protected run(name: string, district: number, startMm?: number, isReversed = false): Run {
    const run = new Run(name, district, startMm, isReversed)
    this.runs.push(run)
    return run
  }

  protected row(name: string, lengthMm: number, run: Run, rest: Partial<PlanSection>): PlanSection {
    const count = Math.max(1, Math.ceil(lengthMm / this.a.feeders - 1e-6))
    const each = r1(lengthMm / count)
    const section: PlanSection = {
      name,
      count,
      lengthMm: each,
      run: run.name,
      feederAtMm: r1(run.mm + each / 2),
      feederStepMm: each,
      ...rest,
    }
    run.mm += lengthMm
    this.sections.push(section)
    return section
  }

  /** A row in which a train may stand. */
  protected stand(section: PlanSection, times = 1): void {
    for (let i = 0; i < section.count; i++) {
      const name = section.count > 1 ? `${section.name}.${i + 1}` : section.name
      this.standing.push({ name, mm: section.lengthMm * section.count * times - i })
    }
  }

  protected turnout(name: string, x: number, y: number): void {
    this.turnouts.push({ name, at: [r1(x), r1(y)] })
  }

  done(): Plan {
    const sections = this.sections
    const turnoutMm = this.turnoutMm
    return {
      says: this.says,
      runs: this.runs.map(({ name, district, isReversed }) => {
        const fed = sections.filter((s) => s.run === name)
        const farthest = Math.max(...fed.map((s) => s.feederAtMm + s.feederStepMm * (s.count - 1)))
        return { name, district, isReversed, lengthMm: Math.ceil((farthest + 50) / 50) * 50 }
      }),
      sections: sections.map((s) => ({
        ...s,
        ...(s.points ? { points: s.points.map(([x, y]): Xy => [r1(x), r1(y)]) } : {}),
      })),
      turnouts: this.turnouts,
      turnoutMm,
      standing: this.standing.sort((p, q) => q.mm - p.mm).map((s) => s.name),
      ...(this.deadEnd ? { deadEnd: this.deadEnd } : {}),
      ...(this.loopMm === undefined ? {} : { loopMm: this.loopMm }),
      trackMm: sections.reduce((sum, s) => sum + s.count * s.lengthMm, 0) + this.turnouts.length * turnoutMm,
    }
  }
}
