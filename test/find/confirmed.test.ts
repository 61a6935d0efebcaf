/** No fault is named on the strength of one reading: one in fifty is plainly wrong. */
import { describe, expect, it } from 'vitest'
import { seededRandom } from '../../src/corner/index.js'
import { type Diagnosis, type Finder, follow, plant, type Reading } from '../../src/find/index.js'
import { finderOf } from './designs.js'

const flawed = finderOf('flawed')
const shelf = finderOf('shelf')
const numberOf = (finder: Finder, id: string) => finder.hypotheses.findIndex((h) => h.id === id)
const isNamed = ({ outcome }: { outcome: string }) => outcome === 'found' || outcome === 'class'

/** Follow the suggested readings, the one with number `wrong` replaced by what a station without the fault shows. */
function misread(finder: Finder, planted: number, wrong: number): { readings: Reading[]; result: Diagnosis } {
  const [bench, sound] = [planted, 0].map((h) => plant(finder, h, seededRandom(20 + h)))
  const readings: Reading[] = []
  for (;;) {
    const result = finder.diagnose(readings)
    const next = result.next[0]
    if (!next || readings.length >= 40) return { readings, result }
    readings.push((readings.length === wrong ? sound! : bench!).read(next.spot, next.instrument))
  }
}

describe('a fault that is named', () => {
  it.each([
    'rails-joined at track spur.5',
    'rails-joined at track loop.3',
    'rails-joined at track L.diverging',
    'trip-set-wrong at district siding',
    'bad-joiner at joint spur.3/4/left and bad-joiner at joint spur.3/4/right',
  ])('is not another one than %s', (id) => {
    const h = numberOf(flawed, id)
    const trial = follow(flawed, h, seededRandom(100003 + h))
    expect(isNamed(trial) && trial.rank > 1, JSON.stringify(trial)).toBe(false)
  })

  it('is named without any one of its readings, too', () => {
    let named = 0
    for (const id of [
      'open-feeder at feeder mill/A',
      'supply-weak at supply brick',
      'rails-joined at track mill',
    ]) {
      const h = numberOf(shelf, id)
      const { readings, result } = misread(shelf, h, -1)
      if (!isNamed(result)) continue
      named++
      const kin = new Set(result.class)
      for (const left of readings.keys()) {
        const { ranking } = shelf.diagnose(readings.filter((_, i) => i !== left))
        const share = ranking.reduce((sum, r) => sum + (kin.has(r.hypothesis) ? r.probability : 0), 0)
        expect(share, `${result.class[0]!.id} without reading ${left + 1}`).toBeGreaterThan(0.85)
      }
    }
    expect(named).toBeGreaterThan(1)
  })

  it('is never the wrong one for one reading of a sound station among those of a faulty one', () => {
    for (const id of ['open-feeder at feeder mill/A', 'supply-weak at supply brick'])
      for (const wrong of [0, 1, 2, 3]) {
        const h = numberOf(shelf, id)
        const { result } = misread(shelf, h, wrong)
        const known = shelf.classOf(h).map((k) => shelf.hypotheses[k]!.id)
        if (isNamed(result)) expect(known, `${id}, reading ${wrong + 1}`).toContain(result.class[0]!.id)
      }
  })
})
