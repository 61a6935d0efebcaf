/** The worker for studies that nobody waits for while editing: two sides compared, and the sweep of the traffic. */
import { AS_WRITTEN, DesignError, loadDesign, profileOfDesign } from '../../design/index.js'
import { type CornerReport, powerReport } from '../../power/index.js'
import {
  type CalculationMemory,
  type CompareSide,
  compareProofs,
  comparisonHtml,
  comparisonMarkdown,
  type DesignEvidence,
  evidenceOfDesign,
  histogramComparison,
  type KeyFigure,
  type MatrixInput,
  matrixOf,
  powerInput,
  proofOfDesign,
  runFigures,
  signalFigures,
  windowsComparison,
} from '../../proof/index.js'
import {
  bestPolicy,
  doTrafficTask,
  latencyPlot,
  loadPlot,
  resolveTraffic,
  stopPlot,
  stopsOf,
  studyTraffic,
  summarise,
  trafficInputOf,
  USUAL_POLICIES,
  usualMost,
} from '../../traffic/index.js'
import { formatShare, formatTimeUs, InputError } from '../../units/index.js'
import type { Figure, TableData } from './calls.js'
import { answerCalls, type Progress } from './channel.js'
import { titleOf } from './figures.js'
import { textSum } from './judge.js'
import type { CompareSource, StudyCalls } from './study-calls.js'
import { VERSION } from './version.js'

const breathe = () => new Promise<void>((done) => setTimeout(done, 0))

const memories: Record<'A' | 'B', CalculationMemory> = { A: new Map(), B: new Map() }

async function sideOf(side: CompareSource, name: 'A' | 'B'): Promise<CompareSide> {
  const { label, text, file, runs, alone, readings, report } = side
  try {
    const loaded = loadDesign(text, file)
    const source = { file, sha256: await textSum(text) }
    const calculated: DesignEvidence = alone
      ? { statements: [], notes: [], cautions: [], complete: true, inputs: [{ role: 'design', ...source }] }
      : evidenceOfDesign(loaded, source, { memory: memories[name] })
    const proof = proofOfDesign(loaded, { calculated, runs, version: VERSION })
    const figures: KeyFigure[] = [
      ...readings.flatMap(({ output, reading }) => signalFigures(reading, output)),
      ...(report ? runFigures(report) : []),
    ]
    return { label, proof, figures }
  } catch (error) {
    if (error instanceof DesignError || error instanceof InputError)
      throw new Error(`${name}, ${label}: ${error.message}`)
    throw error
  }
}

async function compare({
  a,
  b,
  isNarrow,
}: StudyCalls['compare']['takes']): Promise<StudyCalls['compare']['gives']> {
  const left = await sideOf(a, 'A')
  const right = await sideOf(b, 'B')
  const comparison = compareProofs(left, right)
  const drawings = [
    { name: 'compare-windows', svg: windowsComparison(left.proof, right.proof, isNarrow) },
    ...histograms(a, b, isNarrow),
  ]
  const figures = drawings.flatMap(({ name, svg }) => (svg ? [{ name, svg, title: titleOf(svg) }] : []))
  return { comparison, figures }
}

/** One drawing for each output that either side has read. */
function histograms(
  a: CompareSource,
  b: CompareSource,
  isNarrow: boolean,
): { name: string; svg: string | undefined }[] {
  const outputs = [...new Set([...a.readings, ...b.readings].map((r) => r.output))]
  const { clauses } = profileOfDesign(loadDesign(b.text))
  const limits = (['one-half', 'zero-half'] as const).flatMap((id) => {
    const { min, max } = clauses[id].sender ?? {}
    const name = id === 'one-half' ? 'one' : 'zero'
    return [
      { at: min ?? Number.NaN, label: `${name} from` },
      { at: max ?? Number.NaN, label: `${name} to` },
    ].filter((limit) => Number.isFinite(limit.at))
  })
  return outputs.map((output) => {
    const sides = (['A', 'B'] as const).flatMap((label) =>
      (label === 'A' ? a : b).readings
        .filter((r) => r.output === output)
        .map(({ reading }) => ({ label: `${label}, ${output}`, reading })),
    )
    return { name: `compare-histogram-${output}`, svg: histogramComparison(sides, limits, isNarrow) }
  })
}

async function variants(
  { text, file, runs }: StudyCalls['variants']['takes'],
  { progress, cancelled }: { progress: Progress; cancelled: () => boolean },
): Promise<StudyCalls['variants']['gives']> {
  const base = loadDesign(text, file)
  const source = { file, sha256: await textSum(text) }
  const all = [undefined, ...base.variants]
  const inputs: MatrixInput[] = []
  for (const variant of all) {
    const name = variant?.name ?? AS_WRITTEN
    progress(inputs.length / all.length, `${inputs.length + 1} of ${all.length}: ${name}`)
    await breathe()
    if (cancelled()) return undefined
    const loaded = variant ? loadDesign(text, file, name) : base
    const calculated = evidenceOfDesign(loaded, source, { faults: 'tell' })
    const require = loaded.design.require ?? []
    const proof = proofOfDesign(loaded, { calculated, runs, version: VERSION, require })
    inputs.push({ variant: name, suits: variant?.suits, proof })
  }
  return matrixOf(inputs, 'stages')
}

const time = (us: number) => (Number.isFinite(us) ? formatTimeUs(us, 3) : 'never')

async function traffic(
  { text, most }: StudyCalls['traffic']['takes'],
  { progress, cancelled }: { progress: Progress; cancelled: () => boolean },
): Promise<StudyCalls['traffic']['gives']> {
  const { design } = loadDesign(text)
  if (!design.fleet)
    throw new InputError('the design has no fleet; add one: locomotives with their addresses')
  const input = trafficInputOf({ ...design, fleet: design.fleet })
  const resolved = resolveTraffic(input)
  const policies = Object.keys(design.traffic?.policies ?? USUAL_POLICIES)
  const { limit } = input.traffic
  const found = await studyTraffic(
    resolved,
    { policies, most: most ?? usualMost(resolved) },
    async (tasks, says) => {
      const results: (ReturnType<typeof doTrafficTask> | undefined)[] = []
      for (const task of tasks) {
        progress(results.length / tasks.length, `${says}: ${results.length} of ${tasks.length} simulations`)
        await breathe()
        results.push(cancelled() ? undefined : doTrafficTask(resolved, task))
      }
      return results
    },
    cancelled,
  )
  const { clean, dirty, points, carries } = found
  const figures: Figure[] = []
  const add = (name: string, svg: string) => figures.push({ name, svg, title: titleOf(svg) })
  if (points.length > 0) add('traffic-load', loadPlot(points, limit))
  for (const result of clean) {
    const slug = result.policy.replace(/[^a-z0-9]+/gi, '-')
    if (result.latency.some((l) => l.commands > 0)) add(`traffic-latency-${slug}`, latencyPlot(result, limit))
    const stops = stopsOf(resolved, result)
    if (stops.figures.length > 0)
      add(`traffic-stops-${slug}`, stopPlot(stops.figures, stops.shots, result.policy))
  }
  const many = (policy: string, share: number) => {
    const c = carries.find((x) => x.policy === policy && x.lost === share)
    return !c ? '-' : c.tooMany === undefined ? `${c.locomotives} or more` : String(c.locomotives)
  }
  const table: TableData = {
    title: 'Policies side by side',
    head: ['policy', '95 of 100 within', 'slowest', 'on dirty track', 'longest pause', 'on dirty track', 'commands lost', 'under 5 ms', 'carries locomotives', 'on dirty track'], // biome-ignore format: one line
    right: [1, 3, 4, 5, 6, 7, 8, 9],
    rows: clean.map((r, i) => {
      const s = summarise(r)
      const d = summarise(dirty[i]!)
      return [
        r.policy,
        time(s.p95Us),
        s.slowest,
        time(d.p95Us),
        time(s.worstRefreshUs),
        time(d.worstRefreshUs),
        formatShare(s.lostShare),
        String(s.gapsBroken),
        many(r.policy, 0),
        many(r.policy, d.lost),
      ]
    }),
  }
  const sweep: TableData = {
    title: 'Latency against the number of locomotives',
    head: ['policy', 'packets lost', 'locomotives', 'packets per second', '95 of 100 within', 'slowest'],
    right: [1, 2, 3, 4],
    rows: [...points]
      .sort((a, b) => a.policy.localeCompare(b.policy) || a.lost - b.lost || a.locomotives - b.locomotives)
      .map((p) => [
        p.policy,
        formatShare(p.lost),
        String(p.locomotives),
        String(Math.round(p.perSecond)),
        p.lostShare > 0.05 ? 'more than 5 % lost' : time(p.p95Us),
        p.slowest,
      ]),
  }
  const advice =
    clean.length > 0
      ? [`Suits best: ${bestPolicy(clean.map(summarise), dirty.map(summarise), limit).says}.`]
      : []
  for (const c of carries) {
    if (c.tooMany === undefined) continue
    const loss = c.lost > 0 ? `, ${formatShare(c.lost)} of packets lost` : ''
    advice.push(`“${c.policy}”${loss}: ${c.tooMany} locomotives are too many, ${c.why}.`)
  }
  return {
    figures,
    tables: [table, sweep].filter((t) => t.rows.length > 0),
    advice,
    missing: cancelled() ? ['It was stopped: only what was done until then is shown.'] : [],
    cautions: [],
    interrupted: cancelled(),
  }
}

/** Builds drawn for each yield. */
const BUILDS = 200

function corners(text: string): CornerReport[] {
  const found = powerInput(loadDesign(text))
  return found ? (powerReport({ ...found.input, builds: BUILDS }).corners ?? []) : []
}

answerCalls<StudyCalls>(self as unknown as DedicatedWorkerGlobalScope, {
  compare: async (takes) => ({ gives: await compare(takes) }),
  corners: async ({ text }) => ({ gives: corners(text) }),
  variants: async (takes, tools) => ({ gives: await variants(takes, tools) }),
  traffic: async (takes, tools) => ({ gives: await traffic(takes, tools) }),
  exportComparison: async ({ comparison, drawings, form, onlyDifferences }) => ({
    gives:
      form === 'json'
        ? `${JSON.stringify(comparison, null, 2)}\n`
        : form === 'md'
          ? comparisonMarkdown(comparison, { onlyDifferences })
          : comparisonHtml(comparison, { onlyDifferences, drawings }),
  }),
})
