/** Runs of the coupled bench: the built-in scenarios of the design with its firmware. */
import { signal } from '@preact/signals'
import type { ScenarioResult } from '../../bench/index.js'
import { endPlayer, player } from '../worker/callers.js'
import { addRunEvidence, lastValid, lastValidText } from './consequences.js'
import { theHost } from './design.js'
import { benchFault, going, makeWay, setAttempt } from './runs.js'

/** Key of its result. */
export const COUPLED = 'coupled bench'

export const scenarios = signal<readonly ScenarioResult[]>([])
export const chosenScenario = signal<string | undefined>(undefined)

/** What is played from a file, or why it cannot be. */
export const scenarioFault = signal<string | undefined>(undefined)

interface Subject {
  name: string
  of: string
  stop: AbortController
}

/** Makes way for a run of the bench; undefined where there is nothing to run, or something else goes on. */
async function begin(what: string, isAutomatic = false): Promise<Subject | undefined> {
  if (going.value && !(await makeWay())) return undefined
  const facts = lastValid.value?.facts
  const name = facts?.firmware?.file
  if (!facts || name === undefined) return undefined
  benchFault.value = undefined
  scenarioFault.value = undefined
  const stop = new AbortController()
  const of = facts.dependsOn.run
  going.value = {
    key: COUPLED,
    kind: 'run',
    of,
    isAutomatic,
    what,
    share: 0,
    says: 'loading …',
    stop: () => stop.abort(),
  }
  return { name, of, stop }
}

function showProgress(share: number, says: string): void {
  if (going.value) going.value = { ...going.value, share, says }
}

/** Plays a scenario file and shows it; it is no evidence of the proof. */
export async function playFile(file: { name: string; text(): Promise<string> }): Promise<void> {
  const subject = await begin('Playing a scenario')
  if (!subject) return
  const { name, stop } = subject
  try {
    const { result } = await player().call(
      'scenario',
      {
        firmware: await theHost().read(name),
        name,
        text: lastValidText.value,
        scenario: await file.text(),
        file: file.name,
      },
      { signal: stop.signal, progress: showProgress },
    )
    if (!result) return
    scenarios.value = [...scenarios.value.filter((s) => s.name !== result.name), result]
    chosenScenario.value = result.name
  } catch (error) {
    if (!stop.signal.aborted) scenarioFault.value = error instanceof Error ? error.message : String(error)
  } finally {
    endPlayer()
    going.value = undefined
  }
}

/** Plays the built-in scenarios. One that runs by itself and is stopped by a change of the design keeps nothing. */
export async function runCoupled(isAutomatic = false): Promise<void> {
  const subject = await begin('Running the bench', isAutomatic)
  if (!subject) return
  const { name, of, stop } = subject
  const started = performance.now()
  try {
    const gives = await player().call(
      'scenarios',
      { firmware: await theHost().read(name), name, text: lastValidText.value },
      { signal: stop.signal, progress: showProgress },
    )
    if (going.value?.givesWay) return
    scenarios.value = gives.results
    setAttempt(COUPLED, {
      of,
      outcome: gives.interrupted ? 'stopped' : 'done',
      tookMs: performance.now() - started,
    })
    addRunEvidence(COUPLED, gives.evidence)
  } catch (error) {
    if (going.value?.givesWay) return
    const says = error instanceof Error ? error.message : String(error)
    setAttempt(COUPLED, { of, outcome: stop.signal.aborted ? 'stopped' : 'failed', says })
    benchFault.value = { of: 'firmware', says }
  } finally {
    endPlayer()
    going.value = undefined
  }
}
