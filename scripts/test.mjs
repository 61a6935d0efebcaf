// Sets up everything the tests need and runs them all: packages, build, referee tools from Debian, the suite.
import { spawnSync } from 'node:child_process'
import { existsSync, mkdtempSync, readFileSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { build, buildManPages, buildWeb, installPackages, root, run } from './setup.mjs'

/** Referee tools, by the file that proves each is there. */
const REFEREES = [
  {
    program: 'avr-gcc',
    packages: ['gcc-avr', 'avr-libc', 'binutils-avr', 'make'],
    files: ['/usr/bin/avr-gcc', '/usr/lib/avr/include/avr/io.h', '/usr/bin/make'],
  },
  {
    program: 'simavr',
    packages: ['simavr', 'libsimavr-dev', 'libelf-dev', 'gcc', 'libc6-dev'],
    files: ['/usr/include/simavr/sim_avr.h', '/usr/include/libelf.h', '/usr/bin/gcc'],
  },
  { program: 'awk', packages: ['mawk'], files: ['/usr/bin/mawk'] },
  { program: 'chromium', packages: ['chromium'], files: ['/usr/bin/chromium'] },
  { program: 'ngspice', packages: ['ngspice'], files: ['/usr/bin/ngspice'] },
  { program: 'iverilog', packages: ['iverilog'], files: ['/usr/bin/iverilog'] },
  { program: 'parallel', packages: ['parallel'], files: ['/usr/bin/parallel'] },
  { program: 'ghdl', packages: ['ghdl'], files: ['/usr/bin/ghdl'] },
  { program: 'zsh', packages: ['zsh'], files: ['/usr/bin/zsh'] },
  { program: 'fish', packages: ['fish'], files: ['/usr/bin/fish'] },
  { program: 'mandoc', packages: ['mandoc'], files: ['/usr/bin/mandoc'] },
]

function installReferees() {
  const missing = REFEREES.filter((r) => !r.files.every(existsSync))
  if (missing.length === 0) return []
  const packages = missing.flatMap((r) => r.packages)
  const root = process.getuid?.() === 0
  const prefix = root ? [] : ['sudo', '-n']
  console.error(`Installing from Debian's packages: ${packages.join(' ')} …`)
  const env = { ...process.env, DEBIAN_FRONTEND: 'noninteractive' }
  const apt = (args) => {
    const [command, ...rest] = [...prefix, 'apt-get', ...args]
    return spawnSync(command, rest, { stdio: ['ignore', 'ignore', 2], env }).status
  }
  if (
    apt(['update', '-qq']) !== 0 ||
    apt(['install', '-y', '-qq', '--no-install-recommends', ...packages]) !== 0
  ) {
    console.error('Could not install them (needs root or passwordless sudo, and apt-get).')
  }
  return missing.filter((r) => !r.files.every(existsSync))
}

installPackages()
const missing = installReferees()
build()
buildWeb()
buildManPages()
run(process.execPath, ['node_modules/@biomejs/biome/bin/biome', 'check', '.'])

const folder = mkdtempSync(join(tmpdir(), 'halfbit-test-'))
const out = join(folder, 'results.json')
const env = { ...process.env, HALFBIT_MISSING_REFEREES: missing.map((m) => m.program).join(',') }
const done = spawnSync(
  process.execPath,
  [
    'node_modules/vitest/vitest.mjs',
    'run',
    '--reporter=default',
    '--reporter=json',
    `--outputFile.json=${out}`,
    ...process.argv.slice(2),
  ],
  { cwd: root, stdio: ['ignore', 1, 2], env },
)
let counts
try {
  counts = JSON.parse(readFileSync(out, 'utf8'))
} catch {
  console.error('The test runner wrote no results.')
  process.exit(done.status || 1)
} finally {
  rmSync(folder, { recursive: true, force: true })
}
const skipped = (counts.numPendingTests ?? 0) + (counts.numTodoTests ?? 0)
for (const m of missing)
  console.log(`SKIPPED, referee not installed: ${m.program} (apt-get install ${m.packages.join(' ')})`)
const again = counts.testResults
  .flatMap((file) => file.assertionResults)
  .filter((test) => test.status === 'passed' && test.failureMessages.length > 0)
for (const { fullName, failureMessages } of again)
  console.log(`PASSED ON THE SECOND TRY ONLY: ${fullName}\n${failureMessages[0]}`)
console.log(`${counts.numPassedTests} passed, ${counts.numFailedTests} failed, ${skipped} skipped`)
process.exit(done.status ?? 1)
