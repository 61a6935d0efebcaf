/** The command that measures everything: what it refuses, and what its table says of given samples. */
import { spawnSync } from 'node:child_process'
import { join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { describe, expect, it } from 'vitest'
import { type Figure, type Result, tableText } from '../../benchmark/table.mjs'

const root = fileURLToPath(new URL('../..', import.meta.url))

function bench(...args: string[]) {
  const script = join(root, 'benchmark/run.mjs')
  const { status, stdout, stderr } = spawnSync(process.execPath, [script, ...args], {
    cwd: root,
    encoding: 'utf8',
  })
  return { status, stdout, stderr }
}

describe('npm run bench', () => {
  it.each([
    [['readers'], 'bench: no row "readers"; rows: reader, '],
    [['reader', '--against', 'no-such-commit'], 'bench: --against no-such-commit: no such commit'],
    [['--against', '--large'], 'bench: '],
    [['--rounds', '0'], 'bench: --rounds 0: expected a whole number from 1 to 1000'],
    [['--quick'], "bench: Unknown option '--quick'"],
  ])('refuses %j with one message and status 2', (args, message) => {
    const { status, stdout, stderr } = bench(...args)
    expect(stderr.startsWith(message), stderr).toBe(true)
    expect(stderr.trimEnd().split('\n')).toHaveLength(1)
    expect(stdout).toBe('')
    expect(status).toBe(2)
  })
})

/** The row of one figure, cell by cell. */
function cells(figure: Partial<Figure>, result: Partial<Result>, against?: string): string[] {
  const whole: Figure = { id: 'f', work: 'work', unit: 'ms', better: 'less', ...figure }
  const rows = [{ name: 'row', figures: [whole] }]
  const text = tableText([{ row: 'row', figure: 'f', samples: [], ...result }], rows, against)
  return text
    .split('\n')
    .at(-1)!
    .split('|')
    .slice(1, -1)
    .map((cell) => cell.trim())
}

describe('the table of the benchmarks', () => {
  it('shows median, least and greatest, and compares them with what is wanted', () => {
    const wanted = { of: 'now' as const, atMost: 16 }
    expect(cells({ wanted }, { samples: [17, 12, 14] })).toEqual([
      'work',
      '14.0 (12.0–17.0) ms',
      '',
      'at most 16 ms',
      'yes',
    ])
    expect(cells({ wanted }, { samples: [17, 12, 18] })[4]).toBe('no')
  })

  it('takes the ratio to the referee round by round, not from the medians', () => {
    const figure: Partial<Figure> = {
      referee: { name: 'of mawk', as: 'share' },
      wanted: { of: 'referee', atMost: 0.25 },
    }
    // A busy second round hits both: 0.2 each time.
    const result = { samples: [2, 20, 2], referee: { samples: [10, 100, 10] } }
    expect(cells(figure, result).slice(2)).toEqual([
      '0.20 (0.20–0.20) of mawk',
      'at most 0.25 of mawk',
      'yes',
    ])
  })

  it('counts a shorter time as so many times as fast', () => {
    const figure: Partial<Figure> = {
      referee: { name: '× ngspice', as: 'times' },
      wanted: { of: 'referee', atLeast: 45 },
    }
    const result = { samples: [2], referee: { samples: [80] }, against: { samples: [6] } }
    expect(cells(figure, result, 'abc').slice(2)).toEqual(['40.0 × ngspice', '45 × ngspice', 'no', '3.00 ×'])
  })

  it('counts a greater rate as so many times as fast, and says what could not be measured', () => {
    const figure: Partial<Figure> = { better: 'more', unit: 'M/s', wanted: { of: 'commit', atLeast: 3.3 } }
    expect(cells(figure, { samples: [66], against: { samples: [20] } }, 'abc').slice(3)).toEqual([
      '3.3 × the commit',
      'yes',
      '3.30 ×',
    ])
    const failed = { samples: [], failed: 'not in this version' }
    expect(cells(figure, { samples: [66], against: failed }, 'abc').slice(4)).toEqual([
      '',
      'not in this version',
    ])
    expect(cells(figure, failed)[1]).toBe('not measured: not in this version')
  })
})
