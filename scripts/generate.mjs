// Writes what is made from data: the JSON Schemas of our files, their reference pages, and the list of findings.
import { mkdirSync, writeFileSync } from 'node:fs'
import { build, root } from './setup.mjs'

build()
const { findingsReference } = await import('../dist/proof/index.js')
const book = await import('../dist/book/index.js')
const find = await import('../dist/find/index.js')
const { designJsonSchema, designReference, scenarioJsonSchema, scenarioReference } = await import(
  '../dist/design/index.js'
)
mkdirSync(`${root}schema`, { recursive: true })
writeFileSync(`${root}schema/halfbit-design.schema.json`, `${JSON.stringify(designJsonSchema(), null, 2)}\n`)
writeFileSync(
  `${root}schema/halfbit-scenario.schema.json`,
  `${JSON.stringify(scenarioJsonSchema(), null, 2)}\n`,
)
writeFileSync(`${root}docs/scenario-file.md`, scenarioReference())
writeFileSync(`${root}docs/design-file.md`, designReference())
writeFileSync(`${root}docs/findings.md`, findingsReference([book, find]))
