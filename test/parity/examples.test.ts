/** Command line and workbench make the same proof of every example: cell by cell, note by note. */
import { existsSync, readdirSync } from 'node:fs'
import { join } from 'node:path'
import { beforeAll, describe, expect, it } from 'vitest'
import { built, halfbit, root } from '../contract/halfbit.js'
import { webProof } from './web-proof.js'

const examples = readdirSync(join(root, 'examples'), { withFileTypes: true })
  .filter((e) => e.isDirectory() && existsSync(join(root, 'examples', e.name, 'halfbit.yaml')))
  .map((e) => e.name)

beforeAll(built)

describe('one proof in both faces', () => {
  it.each(examples)('%s', async (name) => {
    const folder = join(root, 'examples', name)
    const { stdout, stderr } = halfbit(['prove', 'halfbit.yaml', '--json'], { cwd: folder })
    expect(stderr).toBe('')
    const proof = JSON.parse(stdout)
    expect(await webProof(folder)).toEqual(proof)
    // An empty proof would be equal too.
    expect(proof.counts.met).toBeGreaterThan(10)
  })
})
