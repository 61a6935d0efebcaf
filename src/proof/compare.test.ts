import fc from 'fast-check'
import { parse } from 'parse5'
import { SaxesParser } from 'saxes'
import { describe, expect, it } from 'vitest'
import { SignalReader } from '../signal/index.js'
import { type Evidence, type Origin, profileOf, type Verdict } from '../standard/index.js'
import {
  CHANGES,
  compareFigures,
  compareProofs,
  comparisonHtml,
  comparisonMarkdown,
  comparisonText,
  histogramComparison,
  type ProofAbout,
  prove,
  signalFigures,
  windowsComparison,
} from './index.js'

const PROFILE = profileOf({ profile: 'nmra', scale: 'H0', cutout: false })
const ABOUT: ProofAbout = {
  name: 'Test station (invented)',
  outputs: [{ name: 'main', mode: 'operations', cutout: false }],
  inputs: [],
  version: '1.2.3',
}
const TWO: ProofAbout = {
  ...ABOUT,
  outputs: [...ABOUT.outputs, { name: 'service', mode: 'service', cutout: false }],
}

function half(us: number, margin: number, change: Partial<Evidence> = {}): Evidence {
  return {
    clause: 'one-half',
    origin: 'calculated',
    verdict: margin < 0 ? 'broken' : 'met',
    value: { low: us, high: us, unit: 'us' },
    margin,
    about: 'main',
    because: 'a timer makes it',
    ...change,
  }
}
const side = (label: string, evidence: Evidence[], about = ABOUT, profile = PROFILE) => ({
  label,
  proof: prove(evidence, profile, about),
})
const change = (a: Evidence[], b: Evidence[]) =>
  compareProofs(side('A', a), side('B', b)).rows.find((r) => r.clause === 'one-half')!

describe('two proofs side by side', () => {
  it('tells what kind of change it is', () => {
    expect(change([half(58, 1)], [half(58, 1)]).change).toBe('same')
    expect(change([half(58, 1)], [half(63, -0.67)]).change).toBe('worse')
    expect(change([half(63, -0.67)], [half(58, 1)]).change).toBe('better')
    expect(change([half(58, 1)], [half(60, 0.33)]).change).toBe('less margin')
    expect(change([half(60, 0.33)], [half(58, 1)]).change).toBe('more margin')
    expect(change([half(57, 0.67)], [half(59, 0.67)]).change).toBe('other figures')
    expect(change([half(58, 1)], []).change).toBe('only A')
    expect(change([], [half(58, 1)]).change).toBe('only B')
    expect(change([half(58, 1)], [half(58, 1, { verdict: 'undecided' })]).change).toBe('worse')
    expect(change([], []).change).toBe('same')
  })

  it('compares what both show, and names what only one shows', () => {
    const run = half(62, -0.33, { origin: 'simulated' })
    const row = change([half(58, 1)], [half(58, 1), run])
    expect(row.change).toBe('same')
    expect(row.unshared).toEqual(['simulated only B'])
    // A run against a capture have no origin in common: then the worst of each.
    expect(change([run], [half(58, 1, { origin: 'measured' })]).change).toBe('better')
  })

  it('matches the only output of one design with that of the same name of the other', () => {
    const found = compareProofs(side('A', [half(58, 1)]), side('B', [half(63, -0.67)], TWO))
    const rows = found.rows.filter((r) => r.clause === 'one-half')
    expect(rows.map((r) => [r.about, r.change])).toEqual([
      ['main', 'worse'],
      ['service', 'same'],
    ])
  })

  it('says when only the demand differs', () => {
    const old = profileOf({ profile: 'nmra', edition: '2006', scale: 'H0', cutout: false })
    const found = compareProofs(side('A', []), side('B', [], ABOUT, old))
    const differing = found.rows.filter((r) => r.limitsA !== r.limitsB)
    expect(differing.length).toBeGreaterThan(0)
    for (const row of differing) expect(row.change).toBe('other demand')
  })

  it('nothing differs from itself, and the other way round everything is reversed', () => {
    const evidence = fc.array(
      fc.record({
        margin: fc.double({ min: -2, max: 1, noNaN: true }),
        origin: fc.constantFrom<Origin>('calculated', 'simulated', 'measured'),
        verdict: fc.constantFrom<Verdict>('met', 'broken', 'undecided'),
        clause: fc.constantFrom('one-half' as const, 'refresh' as const, 'short-trip' as const),
      }),
      { maxLength: 6 },
    )
    const made = (list: { margin: number; origin: Origin; verdict: Verdict; clause: Evidence['clause'] }[]) =>
      list.map((e) =>
        half(58, e.margin, { ...e, about: e.clause === 'one-half' ? 'main' : undefined } as Evidence),
      )
    const reversed: Record<string, string> = {
      worse: 'better',
      better: 'worse',
      'less margin': 'more margin',
      'more margin': 'less margin',
      'only A': 'only B',
      'only B': 'only A',
    }
    fc.assert(
      fc.property(evidence, evidence, (x, y) => {
        const a = side('A', made(x))
        const b = side('B', made(y))
        expect(compareProofs(a, a).counts.same).toBe(compareProofs(a, a).rows.length)
        const there = compareProofs(a, b)
        const back = compareProofs(b, a)
        expect(back.rows.map((r) => r.change)).toEqual(there.rows.map((r) => reversed[r.change] ?? r.change))
        expect(CHANGES.reduce((sum, c) => sum + there.counts[c], 0)).toBe(there.rows.length)
      }),
    )
  })

  it('puts figures of the same name side by side', () => {
    const f = (name: string, value: number) => ({ name, value, unit: 'us' })
    expect(compareFigures([f('x', 1), f('y', 2), f('z', 3)], [f('x', 1), f('y', 1), f('w', 3)])).toEqual([
      { name: 'x', unit: 'us', a: 1, b: 1, change: 'same' },
      { name: 'y', unit: 'us', a: 2, b: 1, change: 'down' },
      { name: 'z', unit: 'us', a: 3, change: 'only A' },
      { name: 'w', unit: 'us', b: 3, change: 'only B' },
    ])
  })
})

/** Ones of the given halves, us, as a reading. */
function readingOf(halves: readonly number[]) {
  const reader = new SignalReader({ tickUs: 1, resolutionUs: 0 }, { mode: 'operations' })
  let at = 0
  const ticks = Float64Array.from(halves, (us) => (at += us))
  const levels = Uint8Array.from(halves, (_, i) => i % 2)
  reader.push({ ticks, levels, count: halves.length })
  return reader.finish(at)
}
const evil = '<script>alert(1)</script> | `x`'

describe('reports of the comparison', () => {
  const a = side(evil, [half(58, 1)])
  const b = side('B', [half(63, -0.67), half(62, -0.33, { origin: 'simulated' })])
  const steady = readingOf(Array.from({ length: 400 }, () => 58))
  const jittery = readingOf(Array.from({ length: 400 }, (_, i) => 56 + (i % 5)))
  const comparison = compareProofs(
    { ...a, figures: signalFigures(steady, 'main') },
    { ...b, figures: signalFigures(jittery, 'main') },
  )

  it('has the jitter of both', () => {
    const jitter = comparison.figures.find((f) => f.name === 'jitter of ones, peak to peak')
    expect(jitter).toMatchObject({ a: 0, b: 4, change: 'up', about: 'main' })
  })

  it('says it in words, in Markdown and in HTML, and nothing of a user becomes markup', () => {
    expect(comparisonText(comparison)).toMatch(/^B against A: 1 worse/)
    const md = comparisonMarkdown(comparison, { onlyDifferences: true })
    expect(md).toContain(
      '| one-half | 55 to 61 us | met 1, 58 us (calculated) | BROKEN -0.67, 63 us (calculated) |',
    )
    expect(md).not.toContain('<script>')
    expect(md.split('\n').filter((l) => l.startsWith('| ') && l.includes('BROKEN')).length).toBe(1)
    expect(md).not.toContain('| same |')
    const html = comparisonHtml(comparison)
    expect(html).not.toContain('<script>')
    expect(html).toContain('▼▼ <strong>worse</strong>')
    const errors: string[] = []
    parse(html, { onParseError: (e) => errors.push(e.code), sourceCodeLocationInfo: true })
    expect(errors).toEqual([])
  })

  it('draws windows and histograms of both as sound SVG', () => {
    const drawings = [
      windowsComparison(a.proof, b.proof)!,
      histogramComparison([
        { label: 'A', reading: steady },
        { label: 'B', reading: jittery },
      ])!,
    ]
    for (const svg of drawings) {
      const parser = new SaxesParser()
      parser.on('error', (e) => {
        throw e
      })
      parser.write(svg).close()
    }
    expect(drawings[0]).toContain('A, calculated')
    expect(drawings[0]).toContain('B, simulated')
    expect(drawings[1]).toContain('A: halves of ones 58 µs')
    expect(windowsComparison(prove([], PROFILE, ABOUT), prove([], PROFILE, ABOUT))).toBeUndefined()
  })
})
