/** `halfbit packet` as it is called, without a process. */
import { readFileSync } from 'node:fs'
import { parseArgs } from 'node:util'
import { describe, expect, it } from 'vitest'
import type { Arguments, ExitStatus, Io } from '../../src/cli/command.js'
import { command } from '../../src/cli/commands/packet.js'
import { InputError } from '../../src/units/index.js'

async function call(line: string): Promise<{ status: ExitStatus; out: string }> {
  const types = Object.entries({ ...command.options, json: { type: 'boolean' as const } })
  const options = Object.fromEntries(types.map(([name, { type }]) => [name, { type }]))
  const { values, positionals } = parseArgs({ args: line.split(' '), options, allowPositionals: true })
  const text = (name: string) => (typeof values[name] === 'string' ? (values[name] as string) : undefined)
  const args: Arguments = { positionals, text, texts: () => [], on: (name) => values[name] === true }
  let out = ''
  const io: Io = {
    out: (s) => {
      out += `${s}\n`
    },
    note: () => {},
    progress: () => {},
    signal: new AbortController().signal,
    colour: false,
    width: 80,
  }
  return { status: await command.run(args, io), out }
}

describe('halfbit packet', () => {
  it('gives whole service-mode sequences, as packets and as C', async () => {
    const { out } = await call('sequence direct --cv 29 --value 6 --write')
    // S-9.2.3:2012 E: 3 resets, 5 writes, 6 for recovery.
    expect(out).toMatch(/^ +3 x {2}00 00 00.*\n +5 x {2}7C 1C 06 66.*\n +6 x {2}00 00 00/)
    expect((await call('sequence factory-reset --c')).out).toMatch(/\{ 5, 3, \{ 0x7F, 0x08, 0x77 \} \}/)
    const { steps } = JSON.parse((await call('sequence address-only --value 3 --write --json')).out)
    expect(steps.map((s: { times: number }) => s.times)).toEqual([3, 5, 6, 3, 5, 10])
    await expect(call('sequence paged --cv 29 --value 6 --bit 1')).rejects.toThrow(InputError)
    await expect(call('sequence sideways')).rejects.toThrow(/takes one of/)
  })

  it('gives functions of two groups as two packets', async () => {
    const { out } = await call('make functions --address 3 --on 1,7')
    expect(out).toMatch(/03 81 82/)
    expect(out).toMatch(/03 B4 B7/)
    expect(JSON.parse((await call('make functions --address 3 --on 1,7 --json')).out).packets).toHaveLength(2)
  })

  // S-9.2:2004 Fig. 1 (printed): 37 74 43, twelve ones, 5900 us at 58/100 us (computed).
  it.each([
    'explain 37 74 43 --preamble 12',
    'explain 377443 --preamble 12',
    'explain 0x37,0x74,0x43 --preamble 12',
    'explain 37:74:43 --preamble 12',
    'explain 37 74 --no-error-byte --preamble 12',
    'explain 111111111111 0 00110111 0 01110100 0 01000011 1',
    'explain 1111111111110001101110011101000010000111',
    'make speed --address 55 --step 6 --of 28 --forward --preamble 12',
  ])('%s', async (line) => {
    const { status, out } = await call(`${line} --json`)
    expect(status).toBe(0)
    const object = JSON.parse(out)
    expect(object).toMatchObject({
      halfbit: 1,
      hex: '37 74 43',
      says: 'locomotive 55: forward step 6 of 28',
      preamble: 12,
      bits: '111111111111 0 00110111 0 01110100 0 01000011 1',
      durationUs: 5900,
      findings: [],
    })
    expect(object.bytes.map((b: { pattern: string }) => b.pattern)).toEqual([
      '0AAAAAAA',
      '01DCSSSS',
      'EEEEEEEE',
    ])
  })

  it.each([
    ['explain FF 01 FE', 1, 'FAULT'],
    ['explain 37 74 44', 1, 'the error byte is 44; 43 belongs there'],
    ['explain --service 7C 00 03 7F', 0, 'service mode, direct: write CV1 = 3'],
    ['explain 03 74 77 --steps 14', 0, 'step 3 of 14, headlight on'],
    ['make speed --address 3 --step 3 --of 14 --headlight', 0, 'step 3 of 14, headlight on'],
    ['explain 81 F8 79 --offset 0', 0, 'accessory 5 (board 1, pair 0)'],
    ['make accessory --number 5 --output 1 --offset 0', 0, 'accessory 5 (board 1, pair 0)'],
    ['make direct --cv 8 --bit 7 --value 1', 0, '20 preamble bits'],
    ['kinds', 0, 'speed-functions'],
    ['kinds cv-short', 0, 'CV17+18'],
  ])('%s: status %d', async (line, status, text) => {
    const done = await call(line)
    expect(done.out).toContain(text)
    expect(done.status).toBe(status)
  })

  it.each([
    ['explain 3G', /expected bytes in hexadecimal/],
    ['explain 374', /odd number of digits/],
    ['explain 37 74 43 --steps 27', /--steps 27/],
    ['explain 37 74 43 --address 3', /--address is for packet make/],
    ['explain --bits 111 0 0000', /byte 1 ends after 4 bits/],
    ['explain 11111111111111111111000000000', /no end bit/],
    ['make sped', /nearest is speed/],
    ['make speed --address 3 --of 28', /needs --step/],
    ['make speed --address 3 --of 28 --step 6 --cv 4', /found cv/],
    ['make', /takes one kind/],
    ['explain', /takes bytes/],
    ['guess 1', /explain, make, kinds or sequence/],
  ])('%s is refused', async (line, says) => {
    const error = await call(line).catch((e: unknown) => e)
    expect(error).toBeInstanceOf(InputError)
    expect((error as Error).message).toMatch(says)
  })

  const page = readFileSync(new URL('../../docs/method/packets.md', import.meta.url), 'utf8')
  const shown = [...page.matchAll(/^ {4}halfbit packet (.+)$/gm)].map((match) => match[1]!)
  it('shows examples in the method page', () => expect(shown.length).toBeGreaterThan(5))
  it.each([...shown, ...(command.examples ?? []).map((e) => e.replace('halfbit packet ', ''))])(
    'the example %s works',
    async (line) => expect((await call(line)).status).toBe(0),
  )
})

/** What each profile has: S-9.2.1:2012 intro, 3 to 6 bytes (confirmed); the forms of RCN-211 to RCN-214 from memory. */
describe('a packet under a profile', () => {
  const under = async (line: string) => JSON.parse((await call(`${line} --json`)).out).form

  it.each([
    ['make speed --address 3 --step 6 --of 28 --forward', 'met', 'met', 'confirmed'],
    ['make functions --address 3 --on 61', 'undecided', 'met', 'from memory'],
    ['explain --no-error-byte FD 01 02 03 04 05 06', 'broken', 'broken', undefined],
  ])('%s: nmra %s, rcn %s', async (line, nmra, rcn, status) => {
    const form = await under(`${line} --profile nmra --edition 2006`)
    expect(form).toMatchObject({ profile: 'nmra', edition: '2006', verdict: nmra })
    expect((await under(`${line} --profile rcn`)).verdict).toBe(rcn)
    if (status) expect(form.source).toContain(`(${status})`)
  })

  it('is broken by its length where the profile has no longer forms', async () => {
    // Form 3C with five bytes of functions: 8 bytes with its error byte.
    const long = 'explain --no-error-byte 03 3C 80 01 02 03 04'
    const { out, status } = await call(`${long} --profile nmra`)
    expect(out).toMatch(/under +nmra 2020: broken, 8 bytes; this edition has 3 to 6/)
    expect(status).toBe(1)
    expect((await under(`${long} --profile rcn`)).says).toContain('from memory')
    expect((await call(long)).out).not.toMatch(/^under/m)
  })

  it.each(['make time --hour 10 --minute 5 --factor 1', 'make poll --board 3 --pair 1'])(
    '%s is not confirmed under nmra',
    async (line) => {
      expect((await under(`${line} --profile nmra`)).verdict).toBe('undecided')
    },
  )

  it('refuses a profile or an edition that is not there', async () => {
    await expect(call('explain 00 00 00 --profile rnc')).rejects.toThrow(/nearest is rcn/)
    await expect(call('explain 00 00 00 --edition 1999')).rejects.toThrow(/--edition 1999; expected one of/)
  })
})
