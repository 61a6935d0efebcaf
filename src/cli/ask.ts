/** Questions in a terminal, one after the other: numbered choices, a default with Enter, and an answer again where it fits not. */
import { createInterface } from 'node:readline'
import {
  type Choice,
  type Given,
  meant,
  QUESTIONS,
  type Question,
  type QuestionId,
  type Settled,
  STEPS,
  type Started,
  startDesign,
} from '../start/index.js'
import { InputError } from '../units/index.js'

export interface Talk {
  /** One line to read. */
  say(text: string): void
  /** The next line; undefined at the end of the input. */
  line(prompt: string): Promise<string | undefined>
  close(): void
}

/**
 * Talk over a terminal, or over a pipe: the lines of a pipe may all be there before the first question.
 * @param signal ends the input, as Ctrl-C does
 */
export function talkOver(
  input: NodeJS.ReadableStream,
  output: NodeJS.WritableStream,
  signal: AbortSignal,
): Talk {
  const lines: string[] = []
  let wake: (() => void) | undefined
  let isOver = signal.aborted
  const reader = createInterface({ input, terminal: false })
  const end = () => {
    isOver = true
    wake?.()
  }
  reader.on('line', (line) => {
    lines.push(line)
    wake?.()
  })
  reader.on('close', end)
  signal.addEventListener('abort', end)
  return {
    say: (text) => void output.write(`${text}\n`),
    async line(prompt) {
      output.write(prompt)
      if (lines.length === 0 && !isOver)
        await new Promise<void>((resolve) => {
          wake = resolve
        })
      wake = undefined
      const line = signal.aborted ? undefined : lines.shift()
      // The next text begins a line of its own, and so does the prompt of the shell.
      if (line === undefined) output.write('\n')
      return line
    },
    // Closed and let go of: a terminal that is still being read keeps the program from ending.
    close() {
      signal.removeEventListener('abort', end)
      reader.close()
      if ('unref' in input && typeof input.unref === 'function') input.unref()
    },
  }
}

/**
 * Ask what `given` leaves open until the answers make a sound design.
 * @throws InputError when the input ends before that.
 */
export async function askForDesign(given: Given, talk: Talk): Promise<Started> {
  talk.say('Enter takes the answer in brackets, a number the choice of that number; ? explains.')
  let answers = await askAll(given, talk)
  for (;;) {
    talk.say('')
    talk.say('Sizing and judging the whole design …')
    const result = startDesign(answers)
    if ('started' in result) return result.started
    const { because, nearest } = result.refused
    talk.say(`No design works with these answers: ${because.sentence}.`)
    if (!nearest) throw new InputError('no design that works was found near these answers')
    talk.say(`The nearest: ${nearest.finding.sentence}.`)
    const reply = await talk.line('Take it? [yes] ')
    if (reply === undefined) throw ended('whether to take the nearest choice that works')
    if (/^\s*(y|yes)?\s*$/i.test(reply)) answers = { ...answers, ...nearest.changes }
    else answers = await askAll({}, talk, answers)
  }
}

/** @param before answers that are offered in place of the usual ones. */
async function askAll(given: Given, talk: Talk, before: Given = {}): Promise<Given> {
  const settled: Record<string, unknown> = {}
  const answers: Partial<Record<QuestionId, string>> = {}
  let step = ''
  for (const q of QUESTIONS) {
    const own = given[q.id]
    if (own !== undefined || q.applies?.(settled as Settled) === false) {
      const text = own ?? q.usual(settled as Settled)
      settled[q.id] = meant(q, text, settled as Settled)
      if (own !== undefined) answers[q.id] = own
      continue
    }
    if (q.step !== step) {
      step = q.step
      const at = STEPS.findIndex((s) => s.id === step)
      talk.say('')
      talk.say(`${at + 1} of ${STEPS.length}: ${STEPS[at]!.title}. ${STEPS[at]!.about}`)
    }
    const [text, value] = await askOne(q, settled as Settled, talk, before[q.id])
    answers[q.id] = text
    settled[q.id] = value
  }
  return answers
}

async function askOne(
  q: Question,
  settled: Settled,
  talk: Talk,
  before: string | undefined,
): Promise<[string, unknown]> {
  const choices = q.choices?.(settled) ?? []
  const usual = usable(q, before, settled) ?? q.usual(settled)
  const hasNumbers = isNumbered(q, choices)
  for (const [i, choice] of choices.entries())
    talk.say(`  ${(hasNumbers ? `${i + 1}` : '').padStart(2)}  ${lineOf(choice, hasNumbers)}`)
  for (;;) {
    const reply = (await talk.line(`${q.asks} [${usual === '' ? 'the best' : usual}] `))?.trim()
    if (reply === undefined) throw ended(q.asks)
    if (reply === '?') {
      talk.say(`  ${q.help}`)
      continue
    }
    const text = reply === '' ? usual : (numbered(q, reply, choices) ?? reply)
    try {
      return [text, meant(q, text, settled)]
    } catch (error) {
      if (!(error instanceof InputError)) throw error
      talk.say(`  ${error.message}`)
    }
  }
}

/** Whether choices go by their place: not where some are written as another number. */
function isNumbered(q: Question, choices: readonly Choice[]): boolean {
  return q.kind === 'choice' && !choices.some((c, i) => /^\d$/.test(c.value) && c.value !== String(i + 1))
}

/** A number is the choice of that place, unless a choice is written so. */
function numbered(q: Question, reply: string, choices: readonly Choice[]): string | undefined {
  if (!/^\d+$/.test(reply) || !isNumbered(q, choices) || choices.some((c) => c.value === reply))
    return undefined
  return choices[Number(reply) - 1]?.value
}

function usable(q: Question, text: string | undefined, settled: Settled): string | undefined {
  if (text === undefined) return undefined
  try {
    meant(q, text, settled)
    return text
  } catch {
    return undefined
  }
}

function lineOf({ value, label, facts }: Choice, isNumbered: boolean): string {
  const name = isNumbered || label.startsWith(value) ? label : `${value}: ${label}`
  return facts.length > 0 ? `${name} (${facts.join(', ')})` : name
}

function ended(what: string): InputError {
  return new InputError(`the input ended before an answer to: ${what}`)
}
