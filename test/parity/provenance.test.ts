/** What made a record decides what it is evidence of: neither an export nor a capture of another build is a measurement. */
import { cpSync, readFileSync, writeFileSync } from 'node:fs'
import { join } from 'node:path'
import { beforeAll, describe, expect, it } from 'vitest'
import { parse, stringify } from 'yaml'
import { isShownCell, type Proof } from '../../src/proof/index.js'
import { built, halfbit, root } from '../contract/halfbit.js'
import { workFolder } from '../firmware/compile.js'
import { webProof } from './web-proof.js'

beforeAll(built)
const folder = workFolder()
const firmware = join(root, 'examples/exhibition/firmware')
const CAPTURE = { channel: 'PB2', rate: '4 MHz', probe: 'logic', output: 'main', file: 'main.vcd.gz' }

/** The exhibition's controller and signal alone, with a firmware and captures. */
function station(name: string, captures: object[], elf = 'station.elf', image?: Uint8Array): string {
  const own = join(folder, name)
  cpSync(join(root, 'examples/exhibition/captures'), own, { recursive: true })
  const design = parse(readFileSync(join(root, 'examples/exhibition/halfbit.yaml'), 'utf8'))
  const { halfbit: version, standard, scale, controller, signal } = design
  writeFileSync(join(own, elf), image ?? readFileSync(join(firmware, 'station.elf')))
  const file = { file: elf, runFor: '300 ms' }
  const small = { halfbit: version, name, standard, scale, controller, signal, firmware: file, captures }
  writeFileSync(join(own, 'halfbit.yaml'), stringify(small))
  return own
}

/** Of both faces, which must agree. */
async function proofOf(own: string, args: string[] = []): Promise<Proof> {
  const { stdout, stderr } = halfbit(['prove', 'halfbit.yaml', '--json', ...args], { cwd: own })
  expect(stderr).toBe('')
  const proof: Proof = JSON.parse(stdout)
  if (args.length === 0) expect(await webProof(own)).toEqual(proof)
  return proof
}

const codes = (proof: Proof) => (proof.about.notes ?? []).map((n) => n.code)
const measured = (proof: Proof) => proof.rows.filter((r) => isShownCell(r.cells.measured))
const why = (proof: Proof) => {
  const cell = proof.rows.find((r) => r.clause === 'one-half')!.cells.measured!
  return cell.verdict === 'not shown' ? cell.finding.code : cell.verdict
}

describe('a capture', () => {
  it('of the build that is run counts as measured, without a word', async () => {
    const proof = await proofOf(station('same', [{ ...CAPTURE, build: '71093438e87f' }]))
    expect(measured(proof).length).toBeGreaterThan(5)
    expect(codes(proof)).toEqual([])
  })

  it('of another build counts for nothing, and says what it is', async () => {
    const proof = await proofOf(station('other', [{ ...CAPTURE, build: '0123456789abcdef' }]))
    expect(measured(proof)).toEqual([])
    expect(why(proof)).toBe('proof/shown-by-other-build')
    expect(codes(proof)).toContain('proof/capture-of-other-build')
  })

  it('that names no build counts, and the proof says that it is not known', async () => {
    const proof = await proofOf(station('unnamed', [CAPTURE]))
    expect(measured(proof).length).toBeGreaterThan(5)
    expect(codes(proof)).toEqual(['proof/build-unknown'])
  })

  it('of the build that the design named is of another one when other firmware is run', async () => {
    const own = station('swapped', [{ ...CAPTURE, build: '71093438e87f' }])
    const other = join(root, 'examples/flawed/firmware/station.hex')
    expect(measured(await proofOf(own, ['--firmware', other]))).toEqual([])
  })

  it('is asked on the command line for its build', async () => {
    const own = station('asked', [])
    cpSync(join(own, 'main.vcd.gz'), join(own, 'fresh.vcd.gz'))
    const with_ = (...args: string[]) => proofOf(own, ['--capture', 'fresh.vcd.gz', ...args])
    expect(codes(await with_())).toContain('proof/build-unknown')
    expect(codes(await with_('--build', 'station.elf'))).not.toContain('proof/build-unknown')
    expect(why(await with_('--build', 'ffffffffffff'))).toBe('proof/shown-by-other-build')
  })
})

describe('an export of ours', () => {
  it('is simulated wherever it is read, and of the build that made it', async () => {
    const own = station('export', [{ ...CAPTURE, file: 'run.vcd', channel: 'main', rate: '16 MHz' }])
    const run = halfbit(['simulate', '--design', 'halfbit.yaml', '--export', 'run.vcd'], { cwd: own })
    expect(run.status).toBe(0)
    const proof = await proofOf(own)
    expect(measured(proof)).toEqual([])
    expect(codes(proof)).toContain('proof/capture-is-simulated')
    // As run and as export: two statements of one origin.
    const { simulated } = proof.rows.find((r) => r.clause === 'one-half')!.cells
    expect(isShownCell(simulated) && simulated.evidence).toHaveLength(2)
    const other = await proofOf(own, ['--firmware', join(root, 'examples/flawed/firmware/station.hex')])
    const cell = other.rows.find((r) => r.clause === 'one-half')!.cells.simulated!
    expect(cell.unshown?.map((e) => e.finding?.code)).toEqual(['proof/shown-by-other-build'])
  })

  it('of a calculated signal says nothing of the station', async () => {
    const own = station('wave', [{ ...CAPTURE, file: 'wave.vcd', channel: 'track.signal', rate: '100 MHz' }])
    const made = halfbit(['wave', 'FF 00 FF', '--repeat', '20', '--out', 'wave.vcd'], { cwd: own })
    expect(made.status).toBe(0)
    const proof = await proofOf(own)
    expect(measured(proof)).toEqual([])
    const cell = proof.rows.find((r) => r.clause === 'one-half')!.cells.simulated!
    expect(isShownCell(cell) && cell.evidence).toHaveLength(1)
    expect(codes(proof)).toContain('proof/shown-without-firmware')
  })
})
