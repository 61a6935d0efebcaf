/** What runs and captures showed, kept in this browser over a reload: evidence, figures and the record to look at. */
import type { ScenarioResult } from '../../bench/index.js'
import type { RunEvidence } from '../../proof/index.js'
import type { Attempt, LastRun, Reading } from './runs.js'

export interface KeptRun {
  key: string
  evidence: RunEvidence
  attempt: Attempt
  readings: Reading[]
  run?: LastRun | undefined
  scenarios?: readonly ScenarioResult[] | undefined
}

interface KeptRuns {
  /** Of the program: another one may judge otherwise. */
  version: string
  runs: KeptRun[]
}

const STORE = 'runs'

function database(): Promise<IDBDatabase> {
  return new Promise((done, failed) => {
    const opening = indexedDB.open('halfbit', 1)
    opening.onupgradeneeded = () => opening.result.createObjectStore(STORE)
    opening.onsuccess = () => done(opening.result)
    opening.onerror = () => failed(opening.error)
  })
}

async function inStore<T>(
  mode: IDBTransactionMode,
  act: (store: IDBObjectStore) => IDBRequest<T>,
): Promise<T> {
  const db = await database()
  try {
    return await new Promise<T>((done, failed) => {
      const request = act(db.transaction(STORE, mode).objectStore(STORE))
      request.onsuccess = () => done(request.result)
      request.onerror = () => failed(request.error)
    })
  } finally {
    db.close()
  }
}

/** @returns none where the browser keeps nothing, as in a private window, or another version kept them. */
export async function loadRuns(design: string, version: string): Promise<KeptRun[]> {
  try {
    const kept = (await inStore('readonly', (store) => store.get(design))) as KeptRuns | undefined
    return kept?.version === version ? kept.runs : []
  } catch {
    return []
  }
}

/** Where the browser keeps nothing, everything is run again after a reload. */
export async function storeRuns(design: string, version: string, runs: readonly KeptRun[]): Promise<void> {
  // A worker that can read a file again in parts ends with the page.
  const whole = runs.map((run) => {
    return {
      ...run,
      readings: run.readings.map(({ read, ...r }) => ({ ...r, read: { ...read, source: undefined } })),
    }
  })
  try {
    await inStore('readwrite', (store) => store.put({ version, runs: whole }, design))
  } catch {
    // Not kept.
  }
}
