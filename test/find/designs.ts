import { readFileSync } from 'node:fs'
import { loadDesign } from '../../src/design/index.js'
import { Finder } from '../../src/find/index.js'

const root = new URL('../../', import.meta.url).pathname

export function finderOf(example: string): Finder {
  const file = `${root}examples/${example}/halfbit.yaml`
  return new Finder(loadDesign(readFileSync(file, 'utf8'), file))
}
