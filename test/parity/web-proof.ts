/** The proof as the workbench makes it: the functions of its workers, called without a browser. */
import { readFileSync } from 'node:fs'
import { join } from 'node:path'
import type { Proof, RunEvidence } from '../../src/proof/index.js'
import { capture } from '../../src/web/worker/captures.js'
import { Judge } from '../../src/web/worker/judge.js'
import { simulate } from '../../src/web/worker/simulate.js'
import { root } from '../contract/halfbit.js'

const { version } = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8'))
const TOOLS = { progress: () => {}, cancelled: () => false }

/** Judges the design of a folder, runs its firmware and reads its captures, as the page asks its workers to. */
export async function webProof(folder: string): Promise<Proof> {
  const text = readFileSync(join(folder, 'halfbit.yaml'), 'utf8')
  const read = (name: string) => readFileSync(join(folder, name))
  const judge = new Judge(version)
  const file = 'halfbit.yaml'
  const { facts, problems } = await judge.judge({ text, file, runs: [] }, () => {})
  if (!facts) throw new Error(JSON.stringify(problems))
  const runs: RunEvidence[] = []
  if (facts.firmware && facts.simulated) {
    const { stimulus, runForUs = 5e6 } = facts.firmware
    const gives = await simulate(
      {
        firmware: new Uint8Array(read(facts.firmware.file)),
        name: facts.firmware.file,
        stimulus:
          stimulus === undefined ? undefined : { text: read(stimulus).toString('utf8'), name: stimulus },
        text,
        forUs: runForUs,
      },
      TOOLS,
    )
    runs.push(structuredClone(gives.evidence))
  }
  for (const [listed, { file: name }] of facts.captures.entries()) {
    const gives = await capture({ file: new Blob([new Uint8Array(read(name))]), name, text, listed }, TOOLS)
    runs.push(structuredClone(gives.evidence))
  }
  const { proof } = await judge.judge({ text, file, runs }, () => {})
  return JSON.parse(JSON.stringify(proof))
}
