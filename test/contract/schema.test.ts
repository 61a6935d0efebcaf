/** The committed JSON Schema, held against a validator of its own kind. */
import { existsSync, readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { Ajv2020 } from 'ajv/dist/2020.js'
import { describe, expect, it } from 'vitest'
import { parse } from 'yaml'
import { checkDesign } from '../../src/design/index.js'
import { root } from './halfbit.js'

const schema = JSON.parse(readFileSync(join(root, 'schema/halfbit-design.schema.json'), 'utf8'))
const ajv = new Ajv2020({ allErrors: true, allowUnionTypes: true })
const validate = ajv.compile(schema)
const names = readdirSync(join(root, 'examples')).filter((n) =>
  existsSync(join(root, 'examples', n, 'halfbit.yaml')),
)
const textOf = (name: string) => readFileSync(join(root, 'examples', name, 'halfbit.yaml'), 'utf8')

describe('the JSON Schema', () => {
  it('is one, of the 2020-12 kind', () => {
    expect(schema.$schema).toBe('https://json-schema.org/draft/2020-12/schema')
    expect(ajv.validateSchema(schema), JSON.stringify(ajv.errors)).toBe(true)
  })

  it.each(names)('takes the example %s', (name) => {
    expect(validate(parse(textOf(name))), JSON.stringify(validate.errors)).toBe(true)
  })

  it.each([
    ['halfbit: 2', 'halfbit: 3'],
    ['name: ', 'nam: '],
    ['frequency: 16 MHz', 'frequency: 16'],
    ['frequency: 16 MHz', 'frequency: fast'],
    ['chip: atmega328p', 'chip: atmega328'],
    ['timer: 1', 'timer: 1.5'],
    ['timer: 1', 'timer: -1'],
    ['mode: operations', 'mode: running'],
    ['preamble: 16', 'preamble: 1000'],
    ['pin: PB2', 'pin: B-2'],
  ])('refuses %s as %s, as the check does', (before, after) => {
    const text = textOf('exhibition').replace(before, after)
    expect(text).not.toBe(textOf('exhibition'))
    expect(validate(parse(text))).toBe(false)
    expect(checkDesign(text)).not.toEqual([])
  })
})
