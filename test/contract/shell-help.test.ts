/** Completion and manual pages: from the data of the help, tried in the shells and readers that are there. */
import { spawnSync } from 'node:child_process'
import { mkdtempSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { COMMANDS } from '../../src/cli/commands.js'
import { completionScript, SHELLS } from '../../src/cli/help/completion.js'
import { manOverview, manPage } from '../../src/cli/help/man-page.js'
import { namedCommands } from '../../src/cli/help/named-commands.js'
import { optionsOf } from '../../src/cli/help/text.js'
import { halfbitHere } from './here.js'

const folder = mkdtempSync(join(tmpdir(), 'halfbit-shells-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

const isThere = (program: string, ...args: string[]) => spawnSync(program, args).status === 0
const bash = isThere('bash', '-c', 'exit 0')
const zsh = isThere('zsh', '-c', 'exit 0')
const fish = isThere('fish', '-c', 'exit 0')
const mandoc = spawnSync('mandoc', ['-h'], { input: '' }).error === undefined
for (const [name, there] of Object.entries({ bash, zsh, fish, mandoc }))
  if (!there) console.warn(`SKIPPED: ${name} is not installed; what is made for it is not tried.`)

const path = (shell: string) => join(folder, `halfbit.${shell}`)

beforeAll(async () => {
  const commands = await namedCommands()
  for (const shell of SHELLS) writeFileSync(path(shell), completionScript(shell, commands))
  writeFileSync(join(folder, 'a-design.yaml'), '')
})

function run(program: string, args: string[]): string {
  const done = spawnSync(program, args, {
    cwd: folder,
    encoding: 'utf8',
    env: { ...process.env, HOME: folder, XDG_CONFIG_HOME: folder, XDG_DATA_HOME: folder },
    timeout: 30_000,
  })
  expect(done.stderr).toBe('')
  expect(done.status).toBe(0)
  return done.stdout
}

/** What a person would be offered after these words. */
const OFFERS: [string[], string[], string[]][] = [
  [['pro'], ['prove'], ['check']],
  [['prove', '--ht'], ['--html'], ['--junit']],
  [['prove', '--require', 'm'], ['measured'], ['calculated']],
  [['packet', 'e'], ['explain'], ['make']],
  [['explain', 'short-'], ['short-trip', 'short-current'], ['preamble']],
  [['new', '--example', 'f'], ['flawed'], ['shelf']],
  [['prove', 'a-d'], ['a-design.yaml'], ['--html']],
]

describe.skipIf(!bash)('bash', () => {
  it.each(OFFERS)('after %j', (words, offered, not) => {
    // Through readline itself would need a terminal: the function that it calls, and its own file names.
    const all = ['halfbit', ...words]
    const current = all.at(-1)!
    const script = `source '${path('bash')}'
compopt() { for name in $(compgen -f -- '${current}'); do COMPREPLY+=("$name"); done; }
COMP_WORDS=(${all.map((w) => `'${w}'`).join(' ')}); COMP_CWORD=${all.length - 1}; _halfbit; printf '%s\\n' "\${COMPREPLY[@]}"`
    const found = run('bash', ['--norc', '-c', script]).split('\n')
    expect(found).toEqual(expect.arrayContaining(offered))
    for (const word of not) expect(found).not.toContain(word)
  })
})

describe.skipIf(!fish)('fish', () => {
  it.each(OFFERS)('after %j', (words, offered, not) => {
    const line = ['halfbit', ...words].join(' ')
    const found = run('fish', ['--no-config', '-c', `source '${path('fish')}'; complete -C '${line}'`])
      .split('\n')
      .map((row) => row.split('\t')[0])
    expect(found).toEqual(expect.arrayContaining(offered))
    for (const word of not) expect(found).not.toContain(word)
  })
})

describe.skipIf(!zsh)('zsh', () => {
  it.each(OFFERS)('after %j', (words, offered) => {
    // A real interactive shell on a pseudo terminal: the words, the tab key, and a halfbit that says what it was given.
    const line = ['halfbit', ...words].join(' ')
    const script = `zmodload zsh/zpty
zpty shell zsh -f -i
zpty -w shell "PS1=; autoload -U compinit; compinit -u -d ${folder}/dump; source ${path('zsh')}; halfbit() { print GOT $* END }; print READY"
zpty -r -m shell seen '*READY*READY*'
zpty -w -n shell $'${line}\\t\\n'
zpty -r -m shell seen '*GOT *END*'
print -r -- "$seen"
zpty -d shell`
    const done = spawnSync('zsh', ['-f', '-c', script], { cwd: folder, encoding: 'utf8', timeout: 30_000 })
    for (const word of offered) expect(done.stdout).toContain(word)
  })
})

describe('halfbit completion', () => {
  it('prints the script, and names the nearest shell for a slip', async () => {
    for (const shell of SHELLS) {
      const { status, stdout } = await halfbitHere(['completion', shell])
      expect(status).toBe(0)
      for (const name of Object.keys(COMMANDS)) expect(stdout).toContain(name)
    }
    expect((await halfbitHere(['completion', 'bsh'])).stderr).toContain('the nearest is bash')
  })
})

describe('manual pages', () => {
  it('name every option of every command', async () => {
    const commands = await namedCommands()
    for (const named of commands) {
      const page = manPage(named, '1.2.3')
      for (const [key] of optionsOf(named.command)) expect(page).toContain(`--${key}`.replaceAll('-', '\\-'))
      expect(manOverview(commands, '1.2.3')).toContain(`halfbit\\-${named.name}`)
    }
  })

  it.skipIf(!mandoc)('are sound to mandoc, and hold no figure that it leaves out', async () => {
    const commands = await namedCommands()
    const pages = [manOverview(commands, '1.2.3'), ...commands.map((named) => manPage(named, '1.2.3'))]
    for (const page of pages) {
      const lint = spawnSync('mandoc', ['-T', 'lint', '-W', 'warning'], { input: page, encoding: 'utf8' })
      expect(lint.stdout.replace(/^.*missing date.*\n?/gm, '')).toBe('')
      const text = spawnSync('mandoc', ['-T', 'utf8'], { input: page, encoding: 'utf8' }).stdout
      expect(text.replace(/.\u0008/g, '')).toMatch(/EXIT STATUS/)
    }
  })
})
