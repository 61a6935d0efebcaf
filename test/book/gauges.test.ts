/** Wires of the book's own choice: by what protects them, and, where no fuse does, by what the supply can give. */
import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { leadFor, wireRows } from '../../src/book/wiring/gauges.js'
import { loadDesign } from '../../src/design/index.js'
import { bookOf } from './made.js'

const shelf = readFileSync(new URL('../../examples/shelf/halfbit.yaml', import.meta.url), 'utf8')

/** Of the leads from the supply to its driver and back. The fuse of the district, 2.5 A, is behind the driver. */
function sizes(supply: string): { plus: string; minus: string } {
  const text = shelf
    .replace(/^variants:[\s\S]*/m, '')
    .replace(/brick: \{.*\}/, `brick: { voltage: 13 V, tolerance: 3 %, ${supply} }`)
  const { wires } = bookOf(loadDesign(text)).book
  const to = (at: string) => wires.find((w) => w.to === 'driver bridge' && w.toAt === at)!.wire
  return { plus: to('+'), minus: to('−') }
}

describe('a lead of the book’s own choice', () => {
  // IEC 60204-1 table 6 (from memory): in free air 0.5 mm2 carries 7.9 A, 0.75 mm2 9.9 A, 1 mm2 12.4 A, 1.5 mm2 16.1 A; half inside a case.
  it('is the smallest that carries a current inside a case', () => {
    expect([3.9, 4.1, 5.5, 6.5, 8.5].map(leadFor)).toEqual([
      '0.5 mm2',
      '0.75 mm2',
      '1 mm2',
      '1.5 mm2',
      '2.5 mm2',
    ])
    expect(leadFor(1000)).toBe('16 mm2')
  })

  it('carries what its fuse lets through, though the supply can give more', () => {
    expect(sizes('rating: 9 A, limit: constant, limitCurrent: 9.5 A, fuse: 3 A')).toMatchObject({
      plus: '0.5 mm2',
      minus: '0.5 mm2',
    })
  })

  it('carries what the supply gives before it holds back, without a fuse', () => {
    expect(sizes('rating: 3 A, limit: constant, limitCurrent: 7.5 A')).toMatchObject({
      plus: '1.5 mm2',
      minus: '1.5 mm2',
    })
    expect(sizes('rating: 7.5 A')).toMatchObject({ plus: '1.5 mm2', minus: '1.5 mm2' })
  })

  it('counts what its own driver is fed from, not the first one', () => {
    const power = {
      supplies: { weak: { rating: 1 }, strong: { rating: 7.5 } },
      drivers: { first: { supply: 'weak' }, second: { supply: 'strong' } },
      districts: { near: { driver: 'first' }, far: { driver: 'second' } },
    }
    const lead = { roles: ['rail A'], amp: 0.5, because: 'power.districts.far' }
    const sources = { options: { colours: {}, leadMm: 400 }, loaded: { design: { power } } }
    const [row] = wireRows({ connections: [lead] } as never, sources as never)
    expect(row!.wire).toBe('1.5 mm2')
  })
})
