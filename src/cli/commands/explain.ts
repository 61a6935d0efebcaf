import * as book from '../../book/index.js'
import * as find from '../../find/index.js'
import { terminalWidth, wrapText } from '../../plot/text.js'
import { type Explained, explain, explainedNames } from '../../proof/index.js'
import { CLAUSE_IDS } from '../../standard/index.js'
import type { Command } from '../command.js'

/** Rooms after the proof, whose findings it cannot know. */
const LATER = [book, find]

/** `halfbit explain NAME`. */
export const command: Command = {
  usage: ['explain NAME', 'explain'],
  about: `Says what a clause or a finding means, why it matters, what people usually do about it, and its source.
Reports give the names: short-trip is a clause, signal/preamble a finding. Without a name all names are listed.`,
  options: {},
  takes: { min: 0, max: 1, what: 'at most one clause or finding', choices: CLAUSE_IDS },
  examples: ['halfbit explain short-trip', 'halfbit explain signal/preamble'],
  async run(args, io) {
    const [name] = args.positionals
    if (name === undefined) {
      const names = explainedNames(LATER)
      io.out(args.on('json') ? JSON.stringify({ halfbit: 1, names }, null, 2) : names.join('\n'))
      return 0
    }
    const explained = explain(name, LATER)
    io.out(
      args.on('json')
        ? JSON.stringify({ halfbit: 1, ...explained }, null, 2)
        : explainedText(explained, Math.min(io.width, 100), io.colour).join('\n'),
    )
    return 0
  },
}

function explainedText(e: Explained, width: number, colour: boolean): string[] {
  const bold = (words: string) => (colour ? `\u001b[1m${words}\u001b[0m` : words)
  const part = (head: string, texts: readonly string[]) =>
    texts.length === 0
      ? []
      : [
          '',
          bold(head),
          ...texts.flatMap((text) => wrapText(text, Math.max(40, width) - 2).map((line) => `  ${line}`)),
        ]
  const head = e.kind === 'clause' && e.title !== e.name ? `${e.name}: ${e.title}` : e.name
  return [
    head,
    '='.repeat(terminalWidth(head)),
    ...part('What it means', [e.means]),
    ...part('Why it matters', [e.why]),
    ...part(
      'What people usually do (common practice, no source)',
      e.usually === undefined ? ['Nothing needs doing.'] : [e.usually],
    ),
    ...part(
      'Source',
      e.demands.map(({ editions, demand, source }) => `${source}: ${demand} [${editions.join('; ')}]`),
    ),
    ...part('Shown by', e.shownBy.length > 0 ? [e.shownBy.join(', ')] : []),
    ...part(
      e.kind === 'clause' ? 'Findings about it' : 'Clauses',
      e.related.length > 0 ? [e.related.join(', ')] : [],
    ),
  ]
}
