/** Proposals: judged with the whole design, and made in the file without touching the rest of it. */
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { loadDesign } from '../../src/design/index.js'
import { powerCandidates, powerReport, tripReach } from '../../src/power/index.js'
import { evidenceOfDesign, powerInput, safeProposals, withProposal } from '../../src/proof/index.js'
import { built, halfbit } from '../contract/halfbit.js'

const odd = new URL('./odd/', import.meta.url).pathname
const examples = new URL('../../examples/', import.meta.url).pathname
const folder = mkdtempSync(join(tmpdir(), 'halfbit-proposals-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))
beforeAll(built)

function proposalsOf(text: string) {
  const { input } = powerInput(loadDesign(text))!
  return safeProposals(text, 'x.yaml', powerCandidates(powerReport(input), input.power))
}

const RANK = { met: 2, undecided: 1, 'not shown': 1, broken: 0 } as const

function verdicts(text: string): Map<string, number> {
  const map = new Map<string, number>()
  for (const e of evidenceOfDesign(loadDesign(text), { file: 'x' }).statements) {
    const key = `${e.clause} ${e.about}`
    map.set(key, Math.min(map.get(key) ?? 2, RANK[e.verdict]))
  }
  return map
}

describe('proposals', () => {
  it.each(['trip-band', 'ack-gain', 'inrush-trip', 'blanking', 'sense-short'])(
    '%s: each mends its clause and makes no other worse',
    (name) => {
      const text = readFileSync(`${odd}${name}.yaml`, 'utf8')
      const before = verdicts(text)
      for (const p of proposalsOf(text)) {
        const after = verdicts(withProposal(text, p))
        expect(after.get(`${p.clause} ${p.about}`), p.finding.sentence).toBeGreaterThan(
          before.get(`${p.clause} ${p.about}`)!,
        )
        for (const [key, rank] of before)
          expect(after.get(key), `${key} after ${p.finding.sentence}`).toBeGreaterThanOrEqual(rank)
      }
    },
  )

  it('lower the trip or cool the driver where the top of the trip band is too hot', () => {
    const found = proposalsOf(readFileSync(`${odd}trip-band.yaml`, 'utf8'))
    const heat = found.filter((p) => p.clause === 'driver-heat').map((p) => p.path.join('.'))
    expect(heat).toContain('power.drivers.main.cooling.junctionToAmbient')
    expect(heat).toContain('power.districts.main.trip.current')
  })

  it('another driver, or one with a supply that holds its current, where a short is too much for it', () => {
    const found = proposalsOf(readFileSync(`${odd}bare-bipolar.yaml`, 'utf8'))
    const short = found.find((p) => p.clause === 'short-trip')
    expect(short?.after).toBe('met')
    expect(short?.path).toEqual(['power', 'drivers', 'main', 'part'])
    expect(short?.also?.map((c) => c.path.at(-1))).toEqual(['rating', 'limit', 'limitCurrent'])
    expect(short?.finding.sentence).toMatch(/in place of the L298.*limits its current to/)
    const alone = proposalsOf(readFileSync(`${odd}test-board.yaml`, 'utf8'))
    expect(alone.some((p) => p.path.at(-1) === 'part' && p.also === undefined)).toBe(true)
  })

  it('say which clause that stays met loses most of its margin, and take none from what is not met', () => {
    for (const name of ['trip-band', 'bare-bipolar']) {
      const text = readFileSync(`${odd}${name}.yaml`, 'utf8')
      const judged = (t: string) =>
        evidenceOfDesign(loadDesign(t), { file: 'x' }, { pace: 'soon' }).statements.flatMap((e) =>
          e.verdict === 'not shown' ? [] : [e],
        )
      const before = judged(text)
      for (const p of proposalsOf(text)) {
        const after = judged(withProposal(text, p))
        let most = 0
        for (const e of before) {
          const least = Math.min(
            ...after.filter((a) => a.clause === e.clause && a.about === e.about).map((a) => a.margin),
          )
          if (e.verdict === 'met') most = Math.max(most, e.margin - least)
          else expect(least, `${e.clause} after ${p.finding.sentence}`).toBeGreaterThan(e.margin - 0.005)
        }
        if (most > 0.01) expect(p.narrows).toBeDefined()
      }
    }
  })

  it('never blind a trip that must end a short', () => {
    // Blanking would let the inrush pass, and a short with it.
    for (const p of proposalsOf(readFileSync(`${odd}inrush-trip.yaml`, 'utf8')))
      expect(p.path.at(-1)).not.toBe('blanking')
  })

  it('none for a design that is sound', () => {
    expect(proposalsOf(readFileSync(`${examples}shelf/halfbit.yaml`, 'utf8'))).toEqual([])
  })

  it('are made in the file by number, with every comment kept', () => {
    const file = join(folder, 'halfbit.yaml')
    const text = readFileSync(`${odd}trip-band.yaml`, 'utf8').replace('power:', 'power: # of the club')
    writeFileSync(file, text)
    const bad = halfbit(['power', file, '--apply', '99'])
    expect(bad.status).toBe(2)
    expect(bad.stderr).toMatch(/--apply 99; expected 1 to \d/)
    expect(readFileSync(file, 'utf8')).toBe(text)
    const cooler = proposalsOf(text).findIndex((p) => p.path.at(-1) === 'junctionToAmbient')
    const done = halfbit(['power', file, '--apply', `${cooler + 1}`])
    expect(done.stdout).toMatch(
      /set power\.drivers\.main\.cooling\.junctionToAmbient to 16 K\/W \(now 25 K\/W\)/,
    )
    const after = readFileSync(file, 'utf8')
    expect(after).toContain('# of the club')
    expect(after).toBe(text.replace('25 K/W }', '16 K/W }'))
  })
})

describe('what else a trip switches off', () => {
  const loaded = loadDesign(readFileSync(`${examples}exhibition/halfbit.yaml`, 'utf8'))
  const reach = (change: (power: NonNullable<typeof loaded.design.power>) => void = () => {}) => {
    const power = structuredClone(loaded.design.power!)
    change(power)
    return tripReach(power, loaded.design.signal, loaded.design.controller)
  }

  it('follows a shared enable pin, and names free ones', () => {
    const main = reach().find((r) => r.district === 'main')!
    expect(main.stops.map((s) => s.district)).toEqual(['yard', 'branch'])
    expect(main.stops[0]!.because.sentence).toMatch(/PB0 enables both drivers/)
    expect(main.freePins!.length).toBeGreaterThan(0)
    const used = ['PB0', 'PB2', 'PC0']
    for (const pin of main.freePins!) expect(used).not.toContain(pin)
  })

  it('ends at breakers, and at drivers with pins of their own', () => {
    expect(reach().find((r) => r.district === 'yard')!.stops).toEqual([])
    const apart = reach((p) => {
      p.drivers['yard']!.pins![1]!.wired = 'PC2'
      p.drivers['branch']!.pins![1]!.wired = 'PC3'
    })
    expect(apart.find((r) => r.district === 'main')!.stops).toEqual([])
  })

  it('is proposed apart on free pins, judged, and made in the file', () => {
    const file = join(folder, 'apart.yaml')
    const text = readFileSync(`${examples}exhibition/halfbit.yaml`, 'utf8')
    const found = proposalsOf(text).map((p) => ({ ...p, at: p.path.join('.') }))
    const enables = ['yard', 'branch'].map((d) => `power.drivers.${d}.pins.1.wired`)
    expect(found.map((p) => p.at)).toEqual(enables)
    expect(new Set(found.map((p) => p.value)).size).toBe(2)
    expect(found[0]!.finding.sentence).toMatch(
      /set power\.drivers\.yard\.pins\.1\.wired to P[BCD]\d \(now PB0\), and let the firmware drive that pin too: a trip of main then leaves yard on/,
    )
    writeFileSync(file, text)
    expect(halfbit(['power', file, '--apply', '1']).stdout).toMatch(/short-trip, main stays met/)
    const after = loadDesign(readFileSync(file, 'utf8')).design
    const main = tripReach(after.power!, after.signal, after.controller).find((r) => r.district === 'main')!
    expect(main.stops.map((s) => s.district)).toEqual(['branch'])
  })

  it('says that a shared supply sags until the trip', () => {
    const shared = reach((p) => {
      p.drivers['yard']!.supply = 'main'
    })
    expect(shared.find((r) => r.district === 'yard')!.sags.map((s) => s.district)).toEqual(['main'])
  })
})
