/** Books made for tests: of the examples, and of designs that answers make. */
import { readFileSync } from 'node:fs'
import { type BookOptions, type MadeBook, makeBook, USUAL_COLOURS } from '../../src/book/index.js'
import { type LoadedDesign, loadDesign } from '../../src/design/index.js'
import { evidenceOfDesign, proofOfDesign } from '../../src/proof/index.js'

export const EXAMPLES = ['shelf', 'two-tracks', 'exhibition', 'automation', 'flawed'] as const

export const OPTIONS: BookOptions = { colours: USUAL_COLOURS, leadMm: 400 }

/** @param change what is otherwise in the example's text */
export function loadedExample(name: string, change = (text: string) => text): LoadedDesign {
  const text = readFileSync(new URL(`../../examples/${name}/halfbit.yaml`, import.meta.url), 'utf8')
  return loadDesign(change(text), name)
}

export function bookOf(loaded: LoadedDesign, options: BookOptions = OPTIONS): MadeBook {
  const proof = proofOfDesign(loaded, {
    calculated: evidenceOfDesign(loaded, { file: 'halfbit.yaml' }),
    runs: [],
    version: '0.0.0',
  })
  return makeBook(loaded, proof, options)
}
