/**
 * Runs by itself what the design names: its firmware with its stimulus, and its captures. Says of each whether it is
 * running, up to date, out of date or not run; runs it again when what it depends on has changed.
 */
import { computed, effect, signal } from '@preact/signals'
import type { RunEvidence } from '../../proof/index.js'
import { sha256Of } from '../worker/hash.js'
import { VERSION } from '../worker/version.js'
import { addRunEvidence, answer, busy, lastValid, lastValidText, runEvidence } from './consequences.js'
import { COUPLED, runCoupled, scenarios } from './coupled.js'
import { fileName, hostKind, text, theHost } from './design.js'
import { type KeptRun, loadRuns, storeRuns } from './kept-runs.js'
import {
  attempts,
  DEFAULT_RUN_US,
  type Going,
  going,
  lastRun,
  readings,
  runAgain,
  runFirmware,
  setAttempt,
  takeListed,
} from './runs.js'

export type RunState = 'not run' | 'running' | 'up to date' | 'out of date' | 'stopped early' | 'failed'

export interface NamedRun {
  key: string
  kind: RunEvidence['kind']
  /** `station.elf with evening.stimulus`. */
  label: string
  state: RunState
  /** Why it failed, or why it is not run. */
  says?: string | undefined
  /** Whether the design names it, so that it runs without being asked for. */
  isNamed: boolean
  /** Starts it; absent where it cannot be run. */
  start?: ((isAutomatic: boolean) => Promise<void>) | undefined
}

const AUTOMATIC = 'halfbit-automatic-runs'
const AUTOMATIC_BENCH = 'halfbit-automatic-bench'
/** Whether runs start by themselves; kept in this browser. */
export const isAutomatic = signal(globalThis.localStorage?.getItem(AUTOMATIC) !== 'off')

export function setAutomatic(on: boolean): void {
  isAutomatic.value = on
  localStorage.setItem(AUTOMATIC, on ? 'on' : 'off')
}

/** Whether the bench, which takes longest, does too; kept in this browser. */
export const isBenchAutomatic = signal(globalThis.localStorage?.getItem(AUTOMATIC_BENCH) !== 'off')

export function setBenchAutomatic(on: boolean): void {
  isBenchAutomatic.value = on
  localStorage.setItem(AUTOMATIC_BENCH, on ? 'on' : 'off')
}

/** Keys of what was made from a file that has been changed since. */
const changedFiles = signal<ReadonlySet<string>>(new Set())
/** Files that are too large to be read without being asked for. */
const largeFiles = signal<ReadonlySet<string>>(new Set())
/** False until what the browser has kept is there again. */
const isRestored = signal(false)

/** One that starts by itself is on its way: reading its file comes before anything is seen of it. */
const isStarting = signal(false)

const LARGE_BYTES = 64 << 20
const AFTER_TYPING_MS = 1500
const AT_ONCE_MS = 50
/** What takes longer is offered, not repeated, after a change. */
const LONG_MS = 30_000
/** The bench uses the processor for all of its time, so it is repeated by itself only where that is short. */
const LONG_BENCH_MS = 8000
/** Everything else has been on screen for this long before the bench starts by itself. */
const BENCH_WAITS_MS = 2000

/** What the bench needs and the design lacks. */
export const lackedByBench = computed(() => {
  const facts = lastValid.value?.facts
  const needs: [string, boolean][] = [
    ['a controller that can be simulated', facts?.simulated === true],
    ['firmware that the design names', facts?.firmware !== undefined],
    ['a power stage', facts?.parts.includes('power') === true],
  ]
  return needs.flatMap(([what, isThere]) => (isThere ? [] : [what]))
})

export const canRunBench = computed(() => lackedByBench.value.length === 0)

/** Everything that the design names, and what else was run or read, in the order of the proof. */
export const namedRuns = computed<NamedRun[]>(() => {
  const facts = lastValid.value?.facts
  if (!facts) return []
  const list: NamedRun[] = []
  const add = (one: Omit<NamedRun, 'state'>) => {
    const current = facts.dependsOn[one.kind]
    const evidence = runEvidence.value.get(one.key)
    const attempt = attempts.value.get(one.key)
    const isOfNow = attempt?.of === current && !changedFiles.value.has(one.key)
    let state: RunState = 'not run'
    if (going.value?.key === one.key) state = 'running'
    else if (attempt?.outcome === 'failed' && isOfNow) state = 'failed'
    else if (evidence?.dependsOn === current && isOfNow)
      state = attempt.outcome === 'stopped' ? 'stopped early' : 'up to date'
    else if (attempt?.outcome === 'stopped' && isOfNow) state = 'stopped early'
    else if (evidence) state = 'out of date'
    list.push({ ...one, state, says: state === 'failed' ? attempt?.says : one.says })
  }
  const { firmware } = facts
  const ran = runEvidence.value.get('firmware')
  if (ran || firmware) {
    // Another build that was dropped here stays in its place until the design names other firmware.
    const isDropped = ran !== undefined && ran.inputs[0]?.file !== firmware?.file
    const files = isDropped ? ran.inputs.map((i) => i.file) : [firmware!.file, firmware!.stimulus]
    add({
      key: 'firmware',
      kind: 'run',
      label: files.filter(Boolean).join(' with '),
      isNamed: true,
      ...(facts.simulated
        ? {
            start: isDropped
              ? runAgain
              : (isAutomatic) =>
                  runFirmware(undefined, undefined, firmware!.runForUs ?? DEFAULT_RUN_US, isAutomatic),
          }
        : { says: `${facts.chipName} is not simulated` }),
    })
  }
  facts.captures.forEach(({ file }, i) => {
    const large = largeFiles.value.has(file)
    add({
      key: `capture ${file}`,
      kind: 'capture',
      label: file,
      isNamed: !large,
      start: (isAutomatic) => takeListed(i, isAutomatic),
      ...(large ? { says: 'a large file: read it when you need it' } : {}),
    })
  })
  if (canRunBench.value || runEvidence.value.has(COUPLED)) {
    // Firmware that does not run alone would not run on the bench.
    const isNamed = isBenchAutomatic.value && list[0]?.key === 'firmware' && list[0].state === 'up to date'
    add({
      key: COUPLED,
      kind: 'run',
      label: 'bench',
      isNamed,
      ...(canRunBench.value ? { start: runCoupled } : {}),
    })
  }
  for (const [key, evidence] of runEvidence.value) {
    if (list.some((l) => l.key === key)) continue
    add({
      key,
      kind: evidence.kind,
      label: evidence.inputs.map((i) => i.file).join(' with '),
      isNamed: false,
    })
  }
  return list
})

/** How many of the named are in each state. */
export const runCounts = computed(() => {
  const of = (...states: RunState[]) => namedRuns.value.filter((r) => states.includes(r.state)).length
  return { running: of('running'), stale: of('out of date'), open: of('not run', 'failed', 'stopped early') }
})

const isDue = (run: NamedRun) =>
  run.isNamed &&
  run.start !== undefined &&
  (run.state === 'not run' || (run.state === 'out of date' && !isLong(run.key)))

const isOwnBench = (now: Going | undefined) => now?.key === COUPLED && now.isAutomatic === true

/**
 * Nothing is being calculated, run or read, and nothing is about to be, except for the bench: where that runs by itself
 * it comes after everything else.
 */
export const isSettled = computed(
  () =>
    !busy.value &&
    (going.value === undefined || isOwnBench(going.value)) &&
    (answer.value.problems.length > 0 ||
      (lastValid.value !== undefined &&
        lastValid.value.complete !== false &&
        text.value === lastValidText.value)) &&
    (!isAutomatic.value ||
      (isRestored.value && !isStarting.value && !namedRuns.value.some((r) => r.key !== COUPLED && isDue(r)))),
)

/** Begin: bring back what was kept, then run what is missing or out of date. */
export function followRuns(): void {
  void restore()
  void lookAtSizes()
  let timer: ReturnType<typeof setTimeout> | undefined
  effect(() => {
    // While somebody changes the design, the processor is theirs.
    void text.value
    const now = going.peek()
    if (!now || !isOwnBench(now) || text.value === lastValidText.peek()) return
    going.value = { ...now, givesWay: true }
    now.stop()
  })
  effect(() => {
    // Typing puts it off.
    void text.value
    clearTimeout(timer)
    if (!isAutomatic.value || !isRestored.value || answer.value.problems.length > 0) return
    const now = going.value
    const facts = lastValid.value?.facts
    if (now) {
      // What runs for a design that has been changed meanwhile would show nothing.
      if (now.isAutomatic && facts && now.of !== facts.dependsOn[now.kind]) now.stop()
      return
    }
    if (isStarting.value) return
    const due = namedRuns.value.find(isDue)
    if (!due) return
    const wait = due.key === COUPLED ? BENCH_WAITS_MS : due.state === 'not run' ? AT_ONCE_MS : AFTER_TYPING_MS
    timer = setTimeout(() => {
      if (going.peek() === undefined) void startAutomatically(due)
    }, wait)
  })
  // A file that a compiler wrote anew is seen when the page is looked at again.
  addEventListener('focus', () => void lookForChanges())
}

const isLong = (key: string) =>
  (attempts.value.get(key)?.tookMs ?? 0) > (key === COUPLED ? LONG_BENCH_MS : LONG_MS)

async function startAutomatically(run: NamedRun): Promise<void> {
  const before = changedFiles.value
  if (before.has(run.key)) {
    const rest = new Set(before)
    rest.delete(run.key)
    changedFiles.value = rest
  }
  isStarting.value = true
  try {
    await run.start!(true)
  } finally {
    isStarting.value = false
  }
}

async function lookAtSizes(): Promise<void> {
  const files = await theHost()
    .files()
    .catch(() => [])
  largeFiles.value = new Set(files.filter((f) => f.bytes > LARGE_BYTES).map((f) => f.path))
}

/** Whether the files that a result was made from are still the same. */
async function isOfSameFiles({ inputs }: RunEvidence): Promise<boolean> {
  for (const { file, sha256 } of inputs) {
    if (sha256 === undefined || largeFiles.value.has(file)) continue
    try {
      if ((await sha256Of(await theHost().read(file))) !== sha256) return false
    } catch {
      // A file that was dropped here, or cannot be read now: what it showed stays what it showed.
    }
  }
  return true
}

async function lookForChanges(): Promise<void> {
  const changed = new Set<string>()
  for (const [key, evidence] of runEvidence.peek()) if (!(await isOfSameFiles(evidence))) changed.add(key)
  if (changed.size > 0 || changedFiles.value.size > 0) changedFiles.value = changed
}

async function restore(): Promise<void> {
  const name = `${hostKind.value} ${fileName.value}`
  for (const kept of await loadRuns(name, VERSION)) {
    if (!(await isOfSameFiles(kept.evidence))) continue
    if (kept.run) lastRun.value = kept.run
    if (kept.scenarios) scenarios.value = kept.scenarios
    setAttempt(kept.key, kept.attempt)
    readings.value = [...readings.value, ...kept.readings]
    addRunEvidence(kept.key, kept.evidence)
  }
  isRestored.value = true
  let timer: ReturnType<typeof setTimeout> | undefined
  effect(() => {
    const runs = [...runEvidence.value].map(([key, evidence]): KeptRun => {
      return {
        key,
        evidence,
        attempt: attempts.value.get(key) ?? { of: evidence.dependsOn, outcome: 'done' },
        readings: readings.value.filter((r) => r.source === key),
        ...(key === 'firmware' ? { run: lastRun.value } : {}),
        ...(key === COUPLED ? { scenarios: scenarios.value } : {}),
      }
    })
    clearTimeout(timer)
    if (runs.length > 0) timer = setTimeout(() => void storeRuns(name, VERSION, runs), 300)
  })
}
