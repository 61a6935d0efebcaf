/**
 * The SPICE engine (eecircuit-engine, ngspice as WebAssembly) behind one function. Some 42 MB on disk and 400 MB in
 * memory, so it is no dependency: who wants it installs it beside Halfbit. It is loaded only when asked for, in a worker
 * that ends with the run.
 */
import { existsSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { fileURLToPath, pathToFileURL } from 'node:url'
import { Worker } from 'node:worker_threads'
import { SpiceUnavailable, type SpiceVectors } from '../track/index.js'

const ENGINE = 'node_modules/eecircuit-engine/dist/eecircuit-engine.mjs'

/** Where the package lies, by Node's own rule: in this folder's node_modules or in one above. */
function engineUrl(): string | undefined {
  for (let folder = dirname(fileURLToPath(import.meta.url)); ; folder = dirname(folder)) {
    const file = join(folder, ENGINE)
    if (existsSync(file)) return pathToFileURL(file).href
    if (folder === dirname(folder)) return undefined
  }
}

// The engine prints to the console and may stop the process it lives in: hence a worker, with its output shut off.
const WORKER = `
const { parentPort, workerData } = require('node:worker_threads')
;(async () => {
  for (const name of ['log', 'warn', 'error', 'info', 'debug']) console[name] = () => {}
  const { Simulation } = await import(workerData.engine)
  const simulation = new Simulation()
  await simulation.start()
  simulation.setNetList(workerData.netlist)
  const result = await simulation.runSim()
  const vectors = result.data.map((d) => [d.name.toLowerCase(), Float64Array.from(d.values, Number)])
  parentPort.postMessage({ points: result.numPoints, vectors, errors: simulation.getError() })
})().catch((error) => parentPort.postMessage({ points: 0, vectors: [], errors: [String(error)] }))
`

interface Answer {
  points: number
  vectors: [string, Float64Array][]
  errors: string[]
}

/**
 * Run a netlist.
 * @throws SpiceUnavailable when the engine is missing, fails, or takes longer than `limitMs`.
 */
export async function runSpice(
  netlist: string,
  options: { limitMs?: number; signal?: AbortSignal } = {},
): Promise<SpiceVectors> {
  const engine = engineUrl()
  if (engine === undefined)
    throw new SpiceUnavailable(
      'the SPICE engine is an extra that is not installed; "npm install eecircuit-engine" puts it (42 MB) beside a Halfbit ' +
        'that npm has installed in the same folder, with -g if Halfbit is installed globally',
    )
  const worker = new Worker(WORKER, {
    eval: true,
    workerData: { engine, netlist },
    stdout: true,
    stderr: true,
  })
  let timer: NodeJS.Timeout | undefined
  const onAbort = () => void worker.terminate()
  options.signal?.addEventListener('abort', onAbort, { once: true })
  try {
    const answer = await new Promise<Answer>((resolve, reject) => {
      worker.once('message', resolve)
      worker.once('error', (error) => reject(new SpiceUnavailable(error.message)))
      worker.once('exit', () => reject(new SpiceUnavailable('the SPICE engine ended without a result')))
      timer = setTimeout(
        () => reject(new SpiceUnavailable('the SPICE engine took too long')),
        options.limitMs ?? 60_000,
      )
    })
    // A bad netlist gives one point and words in `errors`, which also holds warnings: so the points decide.
    if (answer.points < 2)
      throw new SpiceUnavailable(`the SPICE engine gave no waveform: ${answer.errors.slice(0, 3).join('; ')}`)
    return new Map(answer.vectors)
  } finally {
    clearTimeout(timer)
    options.signal?.removeEventListener('abort', onAbort)
    await worker.terminate()
  }
}
