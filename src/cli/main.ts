#!/usr/bin/env node
// Entry point. Loads nothing but the command that is called, so that help is as quick as the runtime allows.
import { existsSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { COMMANDS } from './commands.js'

async function main(argv: string[]): Promise<number> {
  const [name, ...rest] = argv
  if (name === undefined || name === '--help' || name === '-h' || name === 'help') {
    const wanted = name === 'help' ? rest[0] : undefined
    if (wanted !== undefined && COMMANDS[wanted] !== undefined) {
      return (await import('./run.js')).runCommand(wanted, ['--help'])
    }
    process.stdout.write(overview())
    return name === undefined ? 2 : 0
  }
  if (name === '--version' || name === 'version') {
    return (await import('./run.js')).printVersion()
  }
  return (await import('./run.js')).runCommand(name, rest)
}

function overview(): string {
  const width = Math.max(...Object.values(COMMANDS).map((c) => c.call.length))
  const rows = Object.values(COMMANDS).map((c) => `  halfbit ${c.call.padEnd(width)}  ${c.summary}`)
  return `Halfbit: the workbench for people who build their own digital command station.

Usage: halfbit COMMAND … [--json]

${rows.join('\n')}

  halfbit COMMAND --help  lists a command's options.
  halfbit explain NAME    says what a clause or a finding of a report means.
  halfbit --version       prints the version.
${documentation()}Exit status: 0 nothing was shown to be broken, 1 a clause is broken or a required one not shown, 2 unusable input,
3 interrupted or internal error.
`
}

/** Where the pages lie, if they are built. */
function documentation(): string {
  const page = fileURLToPath(new URL('../web/docs/index.html', import.meta.url))
  return existsSync(page) ? `Documentation: ${page}\n` : ''
}

// Whoever reads our lines may have seen enough (`| head`): that is no fault.
process.stdout.on('error', (error: NodeJS.ErrnoException) => {
  if (error.code === 'EPIPE') process.exit()
  import('./faults.js').then(({ faultOf, tell }) => {
    tell(faultOf(error) ?? { message: `standard output: ${error.message}`, status: 3 })
    process.exit(3)
  })
})
// Nothing can be said where standard error itself is closed or full.
process.stderr.on('error', () => {})

main(process.argv.slice(2)).then(
  (status) => {
    process.exitCode = status
  },
  (error: unknown) => {
    process.stderr.write(`halfbit: internal fault: ${error instanceof Error ? error.stack : String(error)}\n`)
    process.exitCode = 3
  },
)
