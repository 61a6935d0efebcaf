/** What is worth saying beside the figures. */
import { formatNumber } from '../units/index.js'
import { trackFindings } from './findings.data.js'
import { tooLongTrains } from './layout/train-length.js'
import type { TrackLimits } from './limits.js'
import type { TrackModel } from './model.js'
import type { TrackReport } from './report.js'

/** No railroad indoors has a bus like this; more is a slip of the unit, or needs boosters on the way. Common practice, no source. */
const LONGEST_BUS_MM = 200_000

const COMMON_RAIL = { broken: 'error', undecided: 'warning', met: 'note' } as const

export function addFindings(
  { plan, net, worstCase }: TrackModel,
  report: TrackReport,
  limits: TrackLimits,
): void {
  const { findings } = report
  for (const text of plan.remarks) findings.push({ severity: 'note', text, unjudged: true })
  if (!report.converged)
    findings.push({
      severity: 'error',
      text: 'No steady state was found for the planned load: constant-power loads ask for more than the wires can carry. The voltages shown are not valid.',
    })
  for (const d of report.districts) {
    const idleAmp = worstCase.sourceAmp(worstCase.open, net.districts.indexOf(d.name))
    if (d.tripAmp !== undefined && idleAmp > d.tripAmp)
      findings.push({
        severity: 'error',
        text: `District "${d.name}" trips at once, with no train on it: what is swapped makes a short of ${formatNumber(idleAmp, 3)} A by the wiring. Its voltages are those that would be if it did not.`,
        path: ['power', 'districts', d.name],
      })
    else if (d.tripAmp !== undefined && d.loadAmp.high > d.tripAmp)
      findings.push({
        severity: 'error',
        text: `District "${d.name}": the trains that stand there draw ${d.loadAmp.high.toFixed(2)} A, more than its trip current of ${d.tripAmp.toFixed(2)} A.`,
        path: ['power', 'districts', d.name],
      })
    if (d.tripAmp !== undefined && d.limitAmp !== undefined && d.limitAmp <= d.tripAmp)
      findings.push({
        severity: 'error',
        text: `District "${d.name}": its supply guarantees only ${d.limitAmp.toFixed(2)} A, but it trips only at ${d.tripAmp.toFixed(2)} A; a short may never trip.`,
        path: ['power', 'districts', d.name],
      })
    if (d.tripAmp === undefined)
      findings.push({
        severity: 'warning',
        text: `District "${d.name}" has no trip level: nothing switches a short off but a fuse.`,
        path: ['power', 'districts', d.name],
      })
  }
  for (const t of report.trains)
    if (t.brownOut)
      findings.push({
        severity: 'error',
        text: `${t.name} on ${t.section} has ${t.volt.low.toFixed(1)} V, below the decoder's ${limits.decoderVolt} V: it browns out.`,
        path: ['rollingStock', t.name],
      })
  for (const { harm, because, path } of report.polarity.swapped)
    findings.push({ severity: harm === 'harmless' ? 'note' : 'error', text: because, path })
  plan.feeders.forEach((f) => {
    if (f.open) findings.push({ severity: 'warning', text: `The feeder of ${f.name} is open.`, path: f.path })
  })
  for (const { because, path } of report.polarity.opposed)
    findings.push({ severity: 'error', text: because, path })
  for (const { verdict, finding, path } of report.commonRails)
    findings.push({ severity: COMMON_RAIL[verdict], text: `${finding.sentence}.`, path })
  for (const run of plan.runs)
    if (run.design.length > LONGEST_BUS_MM)
      findings.push({
        severity: 'warning',
        text: `${trackFindings.find('long-bus', { run: run.name, lengthMm: run.design.length }).sentence}.`,
        path: [...run.path, 'length'],
        unjudged: true,
      })
  for (const { train, trainMm, what, lengthMm, path } of tooLongTrains(plan))
    findings.push({
      severity: 'error',
      text: `${trackFindings.find('train-too-long', { train, trainMm, what, lengthMm }).sentence}.`,
      path,
      unjudged: true,
    })
  for (const { ok, run, gaps, stretchMm, train, trainMm, path } of report.polarity.stretches)
    if (!ok && train !== undefined)
      findings.push({
        severity: 'error',
        text: `${trackFindings.find('reversed-stretch-short', { run, gaps, stretchMm, train, trainMm }).sentence}.`,
        path,
      })
  // Only what the sound railroad has can be lost.
  const sound = report.sections.every((s) => s.tripUs !== null)
  const bare = report.faults.list.filter((f) => f.protects === false && f.idle === undefined)
  const worst = bare.reduce<(typeof bare)[number] | undefined>(
    (low, f) => (!low || f.short! < low.short! ? f : low),
    undefined,
  )
  if (worst && sound)
    findings.push({
      severity: 'note',
      text: `${
        trackFindings.find('fault-unprotected', {
          faults: bare.length,
          name: worst.name,
          kind: worst.kind,
          place: worst.shortPlace,
          short: worst.short!,
        }).sentence
      }.`,
      path: worst.path,
    })
  for (const name of report.cutForPolarity)
    findings.push({
      severity: 'error',
      text: `At "${name}" a rail meets its opposite. All other figures hold once both rails are cut there.`,
    })
}
