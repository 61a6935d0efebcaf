import { COMMANDS } from '../commands.js'
import type { NamedCommand } from './completion.js'

/** Every command, loaded: for what lists all of them at once. */
export async function namedCommands(): Promise<NamedCommand[]> {
  return Promise.all(
    Object.entries(COMMANDS).map(async ([name, { summary, load }]) => ({
      name,
      summary,
      command: (await load()).command,
    })),
  )
}
