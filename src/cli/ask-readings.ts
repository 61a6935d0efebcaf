/** `halfbit find` in a terminal: what was noticed and where, and one reading after the other. */

import {
  type Finder,
  type FindReport,
  parseSymptom,
  type Reading,
  readingValue,
  reportDiagnosis,
  SYMPTOMS,
  type Symptom,
  type SymptomKind,
  writtenReading,
} from '../find/index.js'
import { wrapText } from '../plot/index.js'
import { InputError } from '../units/index.js'
import type { Talk } from './ask.js'
import { diagnosisText, howOf, nextText } from './find-text.js'
import { inShell } from './in-shell.js'

/** Room for an answer behind a question. */
const ANSWER = 12

export function reportOf(
  finder: Finder,
  readings: readonly Reading[],
  symptoms: readonly Symptom[],
  skipped: ReadonlySet<string> = new Set(),
): FindReport {
  return reportDiagnosis(finder.diagnose(readings, symptoms, skipped), readings, symptoms, (p) =>
    finder.testOhmAt(p),
  )
}

/**
 * Ask for the next reading until one fault or class is left, nothing fits, or the input ends.
 * @param readings grows with each answer
 * @param symptoms asked for where neither is given
 */
export async function askForReadings(
  finder: Finder,
  readings: Reading[],
  symptoms: Symptom[],
  talk: Talk,
  width: number,
): Promise<void> {
  if (symptoms.length === 0 && readings.length === 0 && !(await askForSymptom(finder, symptoms, talk, width)))
    return
  const skipped = new Set<string>()
  let wasSkipped = false
  for (;;) {
    const report = reportOf(finder, readings, symptoms, skipped)
    const next = report.next[0]
    talk.say('')
    // A reading left out changes nothing but what is next.
    const lines = wasSkipped && next ? nextText(report, width) : diagnosisText(report, width)
    for (const line of lines) talk.say(line)
    if (!next) return
    const reply = await askFor(finder, next, talk, width)
    if (reply === undefined) return
    wasSkipped = reply === 'skip'
    if (reply === 'skip') skipped.add(`${next.place}: ${next.quantity}`)
    else readings.push(reply)
  }
}

/** @returns whether to go on. */
async function askForSymptom(
  finder: Finder,
  symptoms: Symptom[],
  talk: Talk,
  width: number,
): Promise<boolean> {
  const kinds: [string, SymptomKind][] = Object.entries(SYMPTOMS)
  talk.say('What did you notice?')
  for (const [i, [, { title }]] of kinds.entries()) talk.say(`  ${String(i + 1).padStart(2)}  ${title}`)
  for (;;) {
    const answer = talk.line('Number, or Enter for none of these: ')
    // While somebody reads and thinks: what every fault changes takes longest, and is the same whatever was noticed.
    finder.diagnose([])
    const reply = (await answer)?.trim()
    if (reply === undefined || reply === 'q') return false
    if (reply === '') return true
    const picked = /^\d+$/.test(reply) ? kinds[Number(reply) - 1] : undefined
    if (picked) {
      const { symptom, isLast } = await askForPlace(finder, ...picked, talk, width)
      symptoms.push(symptom)
      return !isLast
    }
    talk.say(`  found "${reply}"; expected a number from 1 to ${kinds.length}, Enter, or q`)
  }
}

/** @returns the symptom, with its place where it has one and somebody can say; `isLast` where nothing more is to be asked. */
async function askForPlace(
  finder: Finder,
  id: string,
  { place }: SymptomKind,
  talk: Talk,
  width: number,
): Promise<{ symptom: Symptom; isLast: boolean }> {
  const anywhere = parseSymptom(finder.station, id)
  const names = finder.station.places.flatMap((p) => (p.kind === place ? [p.name] : []))
  while (place !== undefined && names.length > 0) {
    const reply = (
      await talk.line(`Which ${place}, such as ${names[0]} (Enter: cannot say, ? lists them): `)
    )?.trim()
    if (reply === undefined || reply === 'q') return { symptom: anywhere, isLast: true }
    if (reply === '') break
    if (reply === '?') {
      for (const line of wrapText(names.join(', '), width - 2)) talk.say(`  ${line}`)
      continue
    }
    try {
      return { symptom: parseSymptom(finder.station, `${id} at ${reply}`), isLast: false }
    } catch (error) {
      refused(error, talk, width)
    }
  }
  return { symptom: anywhere, isLast: false }
}

async function askFor(
  finder: Finder,
  next: FindReport['next'][number],
  talk: Talk,
  width: number,
): Promise<Reading | 'skip' | undefined> {
  const spot = finder.spots.find((s) => s.key === `${next.place}: ${next.quantity}`)!
  const expected = next.answers ? next.answers.join(' / ') : next.unit
  const what = `${next.quantity} at ${next.place}`
  const ways = `(${expected}; s or Enter skips, q ends, ? explains): `
  const isLong = what.length + ways.length + ANSWER > width
  for (;;) {
    if (isLong) talk.say(what)
    const reply = (await talk.line(isLong ? ways : `${what} ${ways}`))?.trim()
    if (reply === undefined || reply === 'q') return undefined
    if (reply === 's' || reply === '') return 'skip'
    if (reply === '?') {
      for (const line of wrapText(howOf(next), width - 2)) talk.say(`  ${line}`)
      continue
    }
    try {
      return { spot, instrument: spot.kind.instruments[0]!, value: readingValue(spot, reply) }
    } catch (error) {
      refused(error, talk, width)
    }
  }
}

/** What was wrong with an answer; anything else goes on. */
function refused(error: unknown, talk: Talk, width: number): void {
  if (!(error instanceof InputError)) throw error
  for (const line of wrapText(error.message, width - 2)) talk.say(`  ${line}`)
}

/** The call that begins where the questions ended; nothing where nothing was said. */
export function toGoOn(file: string, readings: readonly Reading[], symptoms: readonly Symptom[]): string[] {
  const own = readings.filter((r) => r.error === undefined)
  if (own.length + symptoms.length === 0) return []
  const said = [
    ...symptoms.map(
      ({ id, place }) => `--symptom ${inShell(place === undefined ? id : `${id} at ${place}`)}`,
    ),
    ...own.map((r) => `--reading ${inShell(writtenReading(r))}`),
  ]
  return [
    '',
    'To go on from here later:',
    `  halfbit find ${inShell(file)} \\`,
    `    ${said.join(' \\\n    ')}`,
  ]
}
