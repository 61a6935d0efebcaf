/** Pieces of a report on the terminal that several commands share. Colour is never the only sign. */
import { textBar, textTable, wrapText } from '../plot/text.js'
import { limitsText } from '../proof/limits-text.js'
import { marginText, oneLine, valueText, verdictWord } from '../proof/words.js'
import {
  CLAUSE_FACTS,
  CLAUSE_IDS,
  type Evidence,
  isShown,
  type OutputMode,
  type Profile,
  type Statement,
  senderLimits,
  type Verdict,
} from '../standard/index.js'

export interface Sheet {
  /** Columns of the terminal. */
  width: number
  colour: boolean
}

const COLOURS: Record<Verdict, number> = { met: 32, broken: 31, undecided: 33 }
const BAR = 10

/** The word in the colour of its verdict, where there is colour. */
export function paintVerdict(text: string, verdict: Verdict, colour: boolean): string {
  return colour ? `\u001b[${COLOURS[verdict]}m${text}\u001b[0m` : text
}

/** Empty at the limit, full in the centre of the window; outside it there is no bar but a word. */
export function marginBar(margin: number): string {
  return margin < 0 ? '◀ outside'.padEnd(BAR) : textBar(Math.min(1, margin), BAR)
}

/**
 * Clause by clause: verdict, what was seen, what is asked, the margin as figure and bar (left out where the terminal
 * is narrow); below it, in full sentences, whatever is not met, and why a clause is not shown.
 */
export function verdictTable(
  statements: readonly Statement[],
  profile: Profile,
  mode: OutputMode,
  { width, colour }: Sheet,
): string[] {
  const evidence = statements.filter(isShown)
  if (evidence.length === 0) return ['Nothing is shown: too little signal.']
  // Counts stand beside what was seen; a time may be written in another unit than it is.
  const asked = (e: Evidence) =>
    limitsText(senderLimits(profile.clauses[e.clause], mode), e.value.unit === 'us' ? 'us' : '')
  const rows = evidence.map((e) => [
    verdictWord(e.verdict),
    e.clause,
    valueText(e),
    asked(e),
    marginText(e.margin),
    marginBar(e.margin),
  ])
  const columns = [
    { head: 'verdict' },
    { head: 'clause' },
    { head: 'seen' },
    { head: 'asked' },
    { head: 'margin', align: 'right' as const },
    { head: '' },
  ]
  const full = textTable(columns, rows)
  const fits = Math.max(...full.map((l) => l.length)) <= width
  const [head, rule, ...lines] = fits ? full : textTable(columns.slice(0, 5), rows)
  const table = lines.map((line, i) => {
    const word = rows[i]![0]!
    return paintVerdict(word, evidence[i]!.verdict, colour) + line.slice(word.length)
  })
  const troubles = evidence
    .filter((e) => e.verdict !== 'met')
    .sort((a, b) => Number(b.verdict === 'broken') - Number(a.verdict === 'broken'))
    .flatMap((e) => {
      const word = verdictWord(e.verdict)
      const [first = '', ...more] = wrapText(
        `${word} ${e.clause}: ${oneLine(e.because)}`,
        Math.max(40, width),
        '  ',
      )
      return ['', paintVerdict(word, e.verdict, colour) + first.slice(word.length), ...more]
    })
  const silent = statements
    .filter((s) => !isShown(s))
    .flatMap((s) => wrapText(`not shown ${s.clause}: ${oneLine(s.because)}`, Math.max(40, width), '  '))
  return [head!, rule!, ...table, ...troubles, ...(silent.length > 0 ? ['', ...silent] : [])]
}

/** The verdict on a capture in one sentence, what it does not show beside what it does. */
export function verdictSentence(
  statements: readonly Statement[],
  { mode, cutout }: { mode: OutputMode; cutout: boolean },
): string {
  const evidence = statements.filter(isShown)
  const count = (verdict: Verdict) => evidence.filter((e) => e.verdict === verdict).length
  const owed = CLAUSE_IDS.filter((id) => {
    const { shownBy, owedBy } = CLAUSE_FACTS[id]
    const owes = (owedBy?.mode ?? mode) === mode && (!owedBy?.cutout || cutout)
    return owes && shownBy.includes('measured')
  })
  const silent = owed.filter((id) => evidence.every((e) => e.clause !== id)).length
  const [met, broken, undecided] = [count('met'), count('broken'), count('undecided')]
  const head =
    broken > 0
      ? 'BROKEN'
      : undecided > 0
        ? 'UNDECIDED'
        : silent > 0
          ? 'NOT ALL SHOWN'
          : 'Everything that a capture can show is met'
  return `${head}: ${met} met and ${silent} not shown, ${broken} broken, ${undecided} undecided, of ${owed.length} clauses that a capture can show.`
}
