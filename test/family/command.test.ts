/** Variants on the command line: every command takes one, the matrix proves all, and an accepted proof is held against the next. */
import { cpSync, mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { COMMANDS } from '../../src/cli/commands.js'
import { halfbitHere } from '../contract/here.js'

const folder = mkdtempSync(join(tmpdir(), 'halfbit-family-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))
cpSync('examples/shelf', join(folder, 'shelf'), { recursive: true })
const shelf = join(folder, 'shelf', 'halfbit.yaml')

describe('--variant', () => {
  it('is an option of every command that takes a design', async () => {
    const without: string[] = []
    for (const [name, entry] of Object.entries(COMMANDS)) {
      const { command } = await entry.load()
      if (!command.usage.join(' ').includes('DESIGN') && !('design' in command.options)) continue
      if (!('variant' in command.options)) without.push(name)
    }
    // The workbench shows the design as written.
    expect(without.filter((name) => name !== 'open')).toEqual([])
  })

  it('takes the variant in place of the design, in text and JSON', async () => {
    const checked = await halfbitHere(['check', shelf, '--variant', 'larger controller', '--json'])
    expect(JSON.parse(checked.stdout)).toMatchObject({
      variant: 'larger controller',
      design: { controller: { chip: 'atmega2560' } },
    })
    const power = await halfbitHere(['power', shelf, '--variant', 'hot corner'])
    expect(power.status).toBe(1)
    expect((await halfbitHere(['power', shelf])).status).toBe(0)
    const proof = await halfbitHere(['prove', shelf, '--variant', 'hot corner'])
    expect(proof.status).toBe(1)
    expect(proof.stdout).toMatch(/^Proof of Mill Lane shelf layout \(invented\), variant hot corner/)
  })

  it.each([
    [['prove', shelf, '--variant', 'hot cornr'], /--variant hot cornr: .*the nearest is "hot corner"/],
    [['power', shelf, '--variant', 'hot corner', '--apply', '1'], /--apply 1 changes the design as written/],
    [
      ['matrix', shelf, '--variant', 'none'],
      /there is no variant "none"; .*expected one of larger controller/,
    ],
    [['matrix', shelf, '--by', 'rooms'], /--by rooms; expected one of stages, clauses/],
  ])('is refused in words: %j', async (args, says) => {
    const { status, stderr } = await halfbitHere(args)
    expect(status).toBe(2)
    expect(stderr).toMatch(says)
  })
})

describe('halfbit matrix', () => {
  it('ends as prove does, for all and for one cell by itself', async () => {
    const all = await halfbitHere(['matrix', shelf, '--json', '--junit', join(folder, 'matrix.xml')])
    expect(all.status).toBe(1)
    const matrix = JSON.parse(all.stdout)
    expect(matrix).toMatchObject({ halfbit: 1, kind: 'matrix', by: 'stages' })
    expect(matrix.rows).toHaveLength(7)
    expect(readFileSync(join(folder, 'matrix.xml'), 'utf8')).toContain('<testsuite name="hot corner"')
    for (const { variant, holds } of matrix.rows) {
      const one = await halfbitHere(['matrix', shelf, '--variant', variant, '--json'])
      expect(one.status, variant).toBe(holds ? 0 : 1)
      expect(JSON.parse(one.stdout).rows[0].cells, variant).toEqual(
        matrix.rows.find((r: { variant: string }) => r.variant === variant).cells,
      )
    }
  }, 240_000)

  it('fails where a simulation is required and nothing is run', async () => {
    const args = ['matrix', shelf, '--variant', 'H0 shelf']
    expect((await halfbitHere(args)).status).toBe(0)
    expect((await halfbitHere([...args, '--require', 'simulated'])).status).toBe(1)
  })
})

describe('--require', () => {
  const trial = join(folder, 'trial')
  cpSync('examples/exhibition', trial, { recursive: true })
  const design = join(trial, 'halfbit.yaml')

  it('of one clause holds where a run shows it, though not all that a run could show is shown', async () => {
    const run = ['prove', design, '--for', '1 s']
    expect((await halfbitHere([...run, '--require', 'simulated'])).status).toBe(1)
    const one = join(trial, 'one.xml')
    const own = [...run, '--require', 'simulated:one-half,simulated:framing', '--junit', one]
    expect((await halfbitHere(own)).status).toBe(0)
    // What was not required is skipped.
    expect(readFileSync(one, 'utf8')).toMatch(/failures="0"/)
  }, 60_000)

  it('of one clause fails where nothing is run, and names it', async () => {
    const { status, stdout } = await halfbitHere(['prove', shelf, '--require', 'simulated:framing'])
    expect(status).toBe(1)
    expect(stdout).toMatch(/1 required\s+and not shown \(simulated:framing\)/)
  })

  it.each([
    ['simulated:framin', /the nearest is framing/],
    ['simulated:framing:main', /expected a clause that can be simulated/],
    ['simulated:short-current', /expected a clause that can be simulated/],
    ['guessed:framing', /expected one or more of calculated, simulated, measured/],
  ])('refuses %s', async (what, says) => {
    const { status, stderr } = await halfbitHere(['prove', shelf, '--require', what])
    expect(status).toBe(2)
    expect(stderr).toMatch(says)
  })
})

describe('halfbit prove --baseline', () => {
  const accepted = join(folder, 'accepted.json')

  it('fails on less margin and on what is no longer shown, though nothing is broken', async () => {
    expect((await halfbitHere(['prove', shelf, '--accept', accepted])).status).toBe(0)
    const same = await halfbitHere(['prove', shelf, '--baseline', accepted])
    expect(same.status).toBe(0)
    expect(same.stdout.replace(/\s+/g, ' ')).toMatch(/nothing got better or worse/)
    const text = readFileSync(shelf, 'utf8')
    const worse = join(folder, 'shelf', 'worse.yaml')
    writeFileSync(worse, text.replace('wire: 18 AWG, length: 2.4 m', 'wire: 18 AWG, length: 3.4 m'))
    expect((await halfbitHere(['prove', worse])).status).toBe(0)
    // Along a longer bus the edges ring higher.
    const found = await halfbitHere(['prove', worse, '--baseline', accepted, '--json'])
    expect(found.status).toBe(1)
    expect(JSON.parse(found.stdout).since.worse).toContainEqual(
      expect.objectContaining({ clause: 'decoder-withstand (shelf)', kind: 'margin' }),
    )
    const bare = join(folder, 'shelf', 'bare.yaml')
    const cut = text.slice(0, text.indexOf('# 2.4 m by 0.3 m'))
    writeFileSync(bare, cut)
    const gone = await halfbitHere(['prove', bare, '--baseline', accepted])
    expect(gone.status).toBe(1)
    expect(gone.stdout.replace(/\s+/g, ' ')).toMatch(
      /worse: voltage-drop \(shelf\), calculated: no longer shown/,
    )
  }, 120_000)

  it.each([
    [
      'of another variant',
      ['--variant', 'H0 shelf'],
      /is the proof of Mill Lane.*expected one of .*variant H0 shelf/,
    ],
    ['that a report would overwrite', ['--html', accepted], /is the accepted proof; expected another file/],
  ])('refuses a proof %s', async (_, args, says) => {
    const { status, stderr } = await halfbitHere(['prove', shelf, '--baseline', accepted, ...args])
    expect(status).toBe(2)
    expect(stderr).toMatch(says)
  })

  it('refuses what is no proof', async () => {
    expect((await halfbitHere(['prove', shelf, '--baseline', shelf])).stderr).toMatch(/is not JSON/)
    expect((await halfbitHere(['prove', shelf, '--baseline', join(folder, 'none.json')])).status).toBe(2)
  })
})
