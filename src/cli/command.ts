/** What a command of the command line is. Each lives in a file of its own that is loaded when it is called. */

export interface OptionInfo {
  type: 'string' | 'boolean'
  /** May be given several times; the value is then a list. */
  multiple?: boolean
  /** Placeholder of the value in the help, `FILE`. */
  value?: string
  /** Its value is a file to write, `-` for standard output. */
  writes?: true
  /** The values that it takes, where there are few; the shell completes them. */
  choices?: readonly string[]
  help: string
}

export interface Arguments {
  positionals: string[]
  text(name: string): string | undefined
  texts(name: string): string[]
  on(name: string): boolean
}

export interface Io {
  /** Results: whole lines on stdout. */
  out(text: string): void
  /** Diagnostics and progress: stderr. */
  note(text: string): void
  /** One line on stderr that replaces itself; shows only on a terminal, so it may be called often. */
  progress(text: string): void
  /** Show nothing of what is in this file, should it turn out to be something else than what it is read as. */
  withhold?(path: string): void
  /** Where a design names this file, for what is said of it should it not be there. */
  named?(path: string, place: string): void
  /** Aborted by Ctrl-C: end soon with what was seen so far. */
  signal: AbortSignal
  /** stdout is a terminal that takes colour. */
  colour: boolean
  /** Columns of the terminal, 80 when unknown. */
  width: number
}

/** 0 nothing was shown to be broken; 1 a clause is broken; 2 unusable input; 3 interrupted or internal fault. */
export type ExitStatus = 0 | 1 | 2 | 3

export interface Command {
  /** Lines of use, without the program's name: `capture FILE [options]`. */
  usage: string[]
  about: string
  options: Record<string, OptionInfo>
  /** How many positionals it takes, and what the first may be where that is a word and no file. */
  takes: { min: number; max: number; what: string; choices?: readonly string[] }
  examples?: string[]
  /** It runs until Ctrl-C, which is then its usual end and no interruption. */
  endsByInterrupt?: boolean
  run(args: Arguments, io: Io): Promise<ExitStatus>
}

/** For every command that takes a design. */
export const TRANSLATE_OPTION = {
  type: 'boolean',
  help: 'compile what the firmware runs often to WebAssembly: faster in long runs, same results',
} as const satisfies OptionInfo

export const VARIANT_OPTION = {
  type: 'string',
  value: 'NAME',
  help: 'use this variant in place of the design as written',
} as const satisfies OptionInfo
