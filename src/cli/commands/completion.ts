import { InputError, nearest } from '../../units/index.js'
import type { Command } from '../command.js'
import { completionScript, SHELLS } from '../help/completion.js'
import { namedCommands } from '../help/named-commands.js'

/** `halfbit completion SHELL`. */
export const command: Command = {
  usage: ['completion SHELL'],
  about: `Prints a script with which bash, zsh or fish completes commands, options and their values.`,
  options: {},
  takes: { min: 1, max: 1, what: `one shell: ${SHELLS.join(', ')}`, choices: SHELLS },
  examples: [
    'source <(halfbit completion bash)',
    'source <(halfbit completion zsh)',
    'halfbit completion fish | source',
  ],
  async run(args, io) {
    const asked = args.positionals[0]!
    const shell = SHELLS.find((name) => name === asked)
    if (shell === undefined) {
      const close = nearest(asked, SHELLS)
      throw new InputError(
        `no shell "${asked}"${close ? `; the nearest is ${close}` : ''}; expected ${SHELLS.join(', ')}`,
      )
    }
    const script = completionScript(shell, await namedCommands())
    io.out(args.on('json') ? JSON.stringify({ halfbit: 1, shell, script }, null, 2) : script)
    return 0
  },
}
