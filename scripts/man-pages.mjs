// Writes the manual pages into dist/man, from the data of the help.
import { mkdirSync, readFileSync, writeFileSync } from 'node:fs'
import { root } from './setup.mjs'

const { manOverview, manPage } = await import('../dist/cli/help/man-page.js')
const { namedCommands } = await import('../dist/cli/help/named-commands.js')
const { version } = JSON.parse(readFileSync(`${root}package.json`, 'utf8'))
const commands = await namedCommands()
mkdirSync(`${root}dist/man`, { recursive: true })
writeFileSync(`${root}dist/man/halfbit.1`, manOverview(commands, version))
for (const named of commands)
  writeFileSync(`${root}dist/man/halfbit-${named.name}.1`, manPage(named, version))
