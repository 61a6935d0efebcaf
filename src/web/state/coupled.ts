/** Runs of the coupled bench: the standing scenarios of the design with its firmware. */
import { signal } from '@preact/signals'
import type { ScenarioResult } from '../../bench/index.js'
import { addRunEvidence, bench, lastValid, lastValidText } from './consequences.js'
import { theHost } from './design.js'
import { benchFault, going, makeWay, setAttempt } from './runs.js'

/** Key of its result. */
export const COUPLED = 'coupled bench'

export const scenarios = signal<readonly ScenarioResult[]>([])
export const chosenScenario = signal<string | undefined>(undefined)

export async function runCoupled(): Promise<void> {
  if (going.value && !(await makeWay())) return
  const facts = lastValid.value?.facts
  const name = facts?.firmware?.file
  if (!facts || name === undefined) return
  benchFault.value = undefined
  const stop = new AbortController()
  const of = facts.dependsOn.run
  const started = performance.now()
  going.value = {
    key: COUPLED,
    kind: 'run',
    of,
    what: 'Running the bench',
    share: 0,
    says: 'loading …',
    stop: () => stop.abort(),
  }
  try {
    const gives = await bench().call(
      'scenarios',
      { firmware: await theHost().read(name), name, text: lastValidText.value },
      {
        signal: stop.signal,
        progress: (share, says) => {
          if (going.value) going.value = { ...going.value, share, says }
        },
      },
    )
    scenarios.value = gives.results
    setAttempt(COUPLED, {
      of,
      outcome: gives.interrupted ? 'stopped' : 'done',
      tookMs: performance.now() - started,
    })
    addRunEvidence(COUPLED, gives.evidence)
  } catch (error) {
    const says = error instanceof Error ? error.message : String(error)
    setAttempt(COUPLED, { of, outcome: stop.signal.aborted ? 'stopped' : 'failed', says })
    benchFault.value = { of: 'firmware', says }
  } finally {
    going.value = undefined
  }
}
