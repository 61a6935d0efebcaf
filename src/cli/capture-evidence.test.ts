import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import { capturesOf } from './capture-evidence.js'
import { readDesign } from './read-design.js'

const examples = new URL('../../examples/', import.meta.url).pathname
const one = readDesign(`${examples}exhibition/halfbit.yaml`)
const two = readDesign(`${examples}two-tracks/halfbit.yaml`)

describe('which output a capture shows', () => {
  it('is the only one there is', () => {
    expect(capturesOf(one, ['a.vcd'])).toMatchObject([{ path: 'a.vcd', output: 'main' }])
  })
  it('is told before the file where there are several', () => {
    expect(capturesOf(two, ['service=a=b.vcd', 'main=c.csv'])).toMatchObject([
      { path: 'a=b.vcd', output: 'service' },
      { path: 'c.csv', output: 'main' },
    ])
    expect(() => capturesOf(two, ['a.vcd'])).toThrow(/which output.*main, service/)
    expect(() => capturesOf(two, ['servce=a.vcd'])).toThrow(/nearest is "service"/)
    expect(() => capturesOf(two, ['main='])).toThrow(/expected a file/)
  })
  it('is told by the design, beside whose file the capture lies', () => {
    const [capture] = capturesOf(two, [])
    expect(capture).toMatchObject({ output: 'service', probe: 'logic', options: { channel: ['PE4'] } })
    expect(readFileSync(capture!.path).length).toBeGreaterThan(0)
  })
})
