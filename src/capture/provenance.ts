/**
 * What made an export of ours. Every VCD and CSV file that is written here says so in its head, and the importers
 * read it back: what a simulation wrote is simulated evidence wherever it is read, also after further exports.
 */

export interface MadeBy {
  /** `halfbit simulate`, `halfbit wave`, or `halfbit capture` for an excerpt of a record of unknown origin. */
  command: 'simulate' | 'bench' | 'wave' | 'packet' | 'capture'
  /** The firmware that was run, where one was. */
  firmware?: { name: string; sha256: string }
}

const COMMANDS: readonly MadeBy['command'][] = ['simulate', 'bench', 'wave', 'packet', 'capture']
/** The sentence, wherever it stands in a comment. */
const SENTENCE =
  /\bmade by halfbit (simulate|bench|wave|packet|capture)(?: from firmware ([^\s$]{1,200}) sha256:([0-9a-f]{64}))?/

/** `made by halfbit simulate from firmware main.hex sha256:…`; one line, safe inside a VCD comment. */
export function madeBySentence({ command, firmware }: MadeBy): string {
  if (firmware === undefined) return `made by halfbit ${command}`
  // A name must not end the comment or the line.
  const name = firmware.name.replace(/[^\p{L}\p{N}._+@-]+/gu, '_').slice(0, 100) || 'unnamed'
  return `made by halfbit ${command} from firmware ${name} sha256:${firmware.sha256}`
}

/** What a comment says of the file's making; undefined when it is not ours. */
export function madeByOf(comment: string): MadeBy | undefined {
  const match = SENTENCE.exec(comment)
  const command = COMMANDS.find((c) => c === match?.[1])
  if (!match || command === undefined) return undefined
  const [, , name, sha256] = match
  return name === undefined || sha256 === undefined ? { command } : { command, firmware: { name, sha256 } }
}

/** Whether the edges come from a calculation and not from a measurement. */
export function isSimulatedRecord(madeBy: MadeBy | undefined): boolean {
  return madeBy !== undefined && madeBy.command !== 'capture'
}
