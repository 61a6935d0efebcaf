// Writes what is made from the shapes: the JSON Schema of the design file and its reference page.
import { mkdirSync, writeFileSync } from 'node:fs'
import { build, root } from './setup.mjs'

build()
const { designJsonSchema, designReference } = await import('../dist/design/index.js')
mkdirSync(`${root}schema`, { recursive: true })
writeFileSync(`${root}schema/halfbit-design.schema.json`, `${JSON.stringify(designJsonSchema(), null, 2)}\n`)
writeFileSync(`${root}docs/design-file.md`, designReference())
