/** What is wrong with a design file, and where. */
import { InputError } from '../units/index.js'

/** Keys and list indices from the top. */
export type Path = readonly (string | number)[]

export interface Problem {
  path: Path
  /** From 1. */
  line: number
  column: number
  message: string
}

const SHOWN = 20

/** The design file is unusable; all its problems are listed, in the order of the file. */
export class DesignError extends InputError {
  override name = 'DesignError'
  readonly problems: Problem[]

  /** @param problems at least one. */
  constructor(file: string, problems: Problem[]) {
    const [first] = problems
    super(first?.message ?? 'unusable', { file, line: first?.line, column: first?.column })
    this.problems = problems
  }

  override describe(): string {
    const { file } = this.place
    const lines = this.problems.slice(0, SHOWN).map((p) => `${file}:${p.line}:${p.column}: ${p.message}`)
    if (this.problems.length > SHOWN) lines.push(`and ${this.problems.length - SHOWN} more`)
    return lines.join('\n')
  }
}
