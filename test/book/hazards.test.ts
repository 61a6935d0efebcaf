/** What stands on top of a book whose station may not be switched on, or may not carry a train: and why. */
import { describe, expect, it } from 'vitest'
import { hazardsOf } from '../../src/book/bring-up/hazards.js'
import { warnings } from '../../src/book/page/warnings.js'
import { proofOf } from '../proof-of.js'

const FIRST = 'Change the design first.'
const OPEN = 'Whether it is safe depends on something that the design leaves open: settle that first.'

/** Titles and lines of what is forbidden. */
function forbidden(verdicts: Parameters<typeof proofOf>[0]) {
  return warnings(hazardsOf(proofOf(verdicts), undefined))
    .filter((w) => w.forbids)
    .map(({ title, lines }) => ({ title, lines }))
}

describe('what a book forbids', () => {
  it('is to switch on what is broken, and what is undecided, each in its own words', () => {
    const fuse = 'fuse: fuse'
    expect(forbidden([['fuse', 'broken']])).toEqual([
      {
        title: `Do not build this station, and do not switch it on. ${FIRST}`,
        lines: [`${fuse}, broken. Because of a test.`],
      },
    ])
    expect(forbidden([['fuse', 'undecided']])).toEqual([
      {
        title: `Do not build this station, and do not switch it on. ${OPEN}`,
        lines: [`${fuse}, undecided. Because of a test.`],
      },
    ])
    expect(forbidden([['fuse', 'met']])).toEqual([])
  })

  it('is the change first where one is broken beside another that is undecided', () => {
    const [both] = forbidden([
      ['fuse', 'undecided'],
      ['driver-heat', 'broken'],
    ])
    expect(both!.title).toContain(FIRST)
    expect(both!.lines.map((l) => /, (broken|undecided)\./.exec(l)![1])).toEqual(['broken', 'undecided'])
  })

  it('is to put a train on rails whose packets are wrong, and nothing else', () => {
    expect(forbidden([['one-half', 'undecided']]).map((w) => w.title)).toEqual([
      `Put no locomotive on the rails of this station. ${OPEN}`,
    ])
    expect(forbidden([['voltage-drop', 'broken']])).toEqual([])
  })
})
