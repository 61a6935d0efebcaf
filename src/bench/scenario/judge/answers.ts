/** What a decoder has stored, and what the firmware says of it. */
import { recogniseAnswers } from '../../../controller/index.js'
import { BENCH_FINDINGS as SAYS } from '../../findings.data.js'
import { onService } from '../check.js'
import type { ExpectationDesign } from '../design.js'
import type { Played } from '../play.js'
import type { Found } from '../result.js'

export function cv(
  { train, cv, value }: NonNullable<ExpectationDesign['cv']>,
  { trace, setup }: Played,
): Found[] {
  const plan = train === undefined ? onService(setup)! : setup.decoders.find((d) => d.name === train)!
  const about = setup.districts.find((d) => d.name === plan.district)!.output
  const clause = 'service-sequence'
  const found = trace.run.decoder(plan.name)!.cvs.get(cv)
  // A value that was there before shows nothing.
  const wrote = trace.done.find((d) => d.act.write !== undefined || d.act.send !== undefined)
  if (found !== value) {
    const finding = SAYS.find('cv-not-written', { cv, value, found })
    return [
      {
        clause,
        about,
        verdict: 'broken',
        value: { low: 1, high: 1, unit: 'operations' },
        finding,
        timeUs: wrote?.timeUs,
      },
    ]
  }
  const stray = writesBeside(plan.name, trace)
  if (stray) {
    const finding = SAYS.find('cv-written-beside', stray)
    const broken = { low: stray.times, high: stray.times, unit: 'operations' }
    return [{ clause, about, verdict: 'broken', value: broken, finding, timeUs: stray.timeUs }]
  }
  const other = writtenElsewhere(plan.name, trace)
  if (other) {
    const finding = SAYS.find('cv-written-beside', other)
    const broken = { low: 1, high: 1, unit: 'operations' }
    return [{ clause, about, verdict: 'broken', value: broken, finding, timeUs: other.timeUs }]
  }
  const had = plan.cvs[cv] === value
  if (had) return [{ about, verdict: 'not shown', finding: SAYS.find('cv-was-there', { cv, value }) }]
  return [{ about, verdict: 'met', finding: SAYS.find('cv-stored', { cv, value }) }]
}

/** What a decoder has written that nobody commanded, or more often than it was commanded. */
function writesBeside(name: string, trace: Played['trace']) {
  // What the language of the firmware has no word for, a scenario may ask for in its own.
  if (trace.done.some((d) => d.act.send !== undefined)) return undefined
  const commanded = trace.commands()
  const written = trace.run
    .decoder(name)!
    .events.filter((e) => e.kind === 'acknowledged')
    .flatMap(({ sentence, timeUs }) => {
      const match = /^written CV(\d+) = (\d+)$/.exec(sentence)
      // CV 0 is the page register.
      return match && match[1] !== '0' ? [{ cv: Number(match[1]), value: Number(match[2]), timeUs }] : []
    })
  for (const { cv, value, timeUs } of written) {
    const is = (w: { cv: number; value: number }) => w.cv === cv && w.value === value
    const wanted = commanded.filter((c) => c.kind === 'write' && is(c)).length
    const times = written.filter(is).length
    if (times > wanted) return { cv, value, times, wanted, timeUs }
  }
  return undefined
}

/** What another decoder has stored: no word of the language writes it. */
function writtenElsewhere(name: string, trace: Played['trace']) {
  if (trace.done.some((d) => d.act.send !== undefined)) return undefined
  for (const { name: decoder, events } of trace.run.decoders) {
    if (decoder === name) continue
    for (const { sentence, timeUs } of events) {
      const match = /^(?:written )?CV([1-9]\d*) = (\d+)$/.exec(sentence)
      if (match)
        return { cv: Number(match[1]), value: Number(match[2]), times: 1, wanted: 0, decoder, timeUs }
    }
  }
  return undefined
}

export function answer(
  { text, is, value, to, within }: NonNullable<ExpectationDesign['answer']>,
  { trace, setup }: Played,
): Found[] {
  const act = trace.named(to)
  const district = setup.districts.find((d) => d.name === onService(setup)?.district)
  const about = district?.name ?? 'serial line'
  const clause = text === undefined ? ('ack-detect' as const) : undefined
  const of = clause === undefined ? { about } : { clause, about }
  if (!act) return [{ ...of, verdict: 'not shown', finding: SAYS.find('never-happened', { act: to }) }]
  const untilUs = act.timeUs + within
  const share = { low: 0, high: 0, unit: 'share' }
  if (text !== undefined) {
    const atUs = trace.answered(text, act.timeUs)
    if (atUs !== undefined && atUs <= untilUs) {
      const finding = SAYS.find('answered', { act: to, text, tookUs: atUs - act.timeUs })
      return [{ ...of, verdict: 'met', finding, timeUs: act.timeUs }]
    }
    const finding = SAYS.find('answer-wrong', {
      command: to,
      wanted: JSON.stringify(text),
      found: 'something else',
    })
    return [{ ...of, verdict: 'broken', finding, timeUs: act.timeUs }]
  }
  const said = recogniseAnswers(trace.run.answers, setup.commands!).find(
    (a) => a.timeUs >= act.timeUs && a.timeUs < untilUs,
  )
  const cv = act.act.read?.cv
  const says = (a: typeof said) => {
    if (a?.answer !== 'read') return a?.answer
    return a.cv === undefined || a.cv === cv ? `${a.value}` : `${a.value} in CV${a.cv}`
  }
  const wanted = is ?? `${value}`
  if (says(said) === wanted) {
    const finding = SAYS.find('answered', { act: to, text: wanted, tookUs: 0 })
    return [{ ...of, verdict: 'met', value: share, finding, timeUs: act.timeUs }]
  }
  const found = said === undefined ? 'nothing' : `"${says(said)}"`
  const finding = SAYS.find('answer-wrong', { command: to, wanted: `"${wanted}"`, found })
  return [{ ...of, verdict: 'broken', value: { ...share, high: 1 }, finding, timeUs: act.timeUs }]
}
