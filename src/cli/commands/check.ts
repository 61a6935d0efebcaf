import { readFileSync } from 'node:fs'
import { checkDesign } from '../../design/index.js'
import type { Command } from '../command.js'
import { readDesign } from '../load-design.js'

/** `halfbit check DESIGN`: every problem with its line, or nothing to say. */
export const command: Command = {
  usage: ['check DESIGN [--json]'],
  about: 'Validates a design file: every problem with line, column, what was found, what was expected.',
  options: {},
  takes: { min: 1, max: 1, what: 'one design file' },
  async run(args, io) {
    const [file] = args.positionals as [string]
    if (args.on('json')) {
      const problems = checkDesign(readFileSync(file, 'utf8'))
      io.out(JSON.stringify({ halfbit: 1, file, problems }, null, 2))
      return problems.length > 0 ? 2 : 0
    }
    const { design } = readDesign(file)
    const parts = Object.keys(design).filter((key) => key !== 'halfbit' && key !== 'name')
    io.out(`${file}: ${design.name}: no problems (${parts.join(', ')})`)
    return 0
  },
}
