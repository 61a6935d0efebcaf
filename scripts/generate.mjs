// Writes what is made from data: the JSON Schema of the design file, its reference page, and the list of findings.
import { mkdirSync, writeFileSync } from 'node:fs'
import { build, root } from './setup.mjs'

build()
const { findingsReference } = await import('../dist/proof/index.js')
const { designJsonSchema, designReference } = await import('../dist/design/index.js')
mkdirSync(`${root}schema`, { recursive: true })
writeFileSync(`${root}schema/halfbit-design.schema.json`, `${JSON.stringify(designJsonSchema(), null, 2)}\n`)
writeFileSync(`${root}docs/design-file.md`, designReference())
writeFileSync(`${root}docs/findings.md`, findingsReference())
