import { readFileSync } from 'node:fs'
import { describe, expect, it } from 'vitest'
import * as book from '../../src/book/index.js'
import { designJsonSchema, designReference } from '../../src/design/index.js'
import * as find from '../../src/find/index.js'
import { findingsReference } from '../../src/proof/index.js'

const read = (path: string) => readFileSync(new URL(`../../${path}`, import.meta.url), 'utf8')

describe('files made from data (npm run generate)', () => {
  it('the JSON Schema is current', () => {
    expect(JSON.parse(read('schema/halfbit-design.schema.json'))).toEqual(
      JSON.parse(JSON.stringify(designJsonSchema())),
    )
  })
  it('the list of findings is current', () =>
    expect(read('docs/findings.md')).toBe(findingsReference([book, find])))
  it('the reference page is current', () => expect(read('docs/design-file.md')).toBe(designReference()))
})
