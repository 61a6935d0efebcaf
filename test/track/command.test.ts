/** The command on the examples, from the file to the exit status. */
import { mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import type { Arguments, Io } from '../../src/cli/command.js'
import { command } from '../../src/cli/commands/track.js'

let folder = ''
beforeAll(() => {
  folder = mkdtempSync(join(tmpdir(), 'halfbit-track-'))
})
afterAll(() => rmSync(folder, { recursive: true, force: true }))

const example = (name: string) => new URL(`../../examples/${name}/halfbit.yaml`, import.meta.url).pathname

async function run(
  file: string,
  options: Record<string, string | true> = {},
  signal = new AbortController().signal,
) {
  let out = ''
  let notes = ''
  const args: Arguments = {
    positionals: [file],
    text: (name) => (typeof options[name] === 'string' ? (options[name] as string) : undefined),
    texts: () => [],
    on: (name) => options[name] === true,
  }
  const io: Io = {
    out: (text) => {
      out += `${text}\n`
    },
    note: (text) => {
      notes += `${text}\n`
    },
    progress: () => {},
    signal,
    colour: false,
    width: 100,
  }
  const status = await command.run(args, io)
  return { status, out, notes }
}

describe('halfbit track', () => {
  it.each(['exhibition', 'shelf'])('finds every clause of %s met', async (name) => {
    const { status, out } = await run(example(name), { json: true })
    const report = JSON.parse(out)
    expect(report.halfbit).toBe(1)
    expect(report.evidence.filter((e: { verdict: string }) => e.verdict !== 'met')).toEqual([])
    expect(status).toBe(0)
    expect(report.findings.filter((f: { severity: string }) => f.severity === 'error')).toEqual([])
    expect(report.polarity.routes).toEqual([])
    expect(report.converged).toBe(true)
    expect(report.cautions.join(' ')).toMatch(/never join/i)
  })

  it('shows each planted fault of the flawed one, and exits with 1', async () => {
    const { status, out } = await run(example('flawed'), { json: true })
    const report = JSON.parse(out)
    expect(status).toBe(1)
    const broken = report.evidence
      .filter((e: { verdict: string }) => e.verdict === 'broken')
      .map((e: { clause: string }) => e.clause)
    expect(new Set(broken)).toEqual(
      new Set([
        'voltage-drop',
        'short-trip',
        'polarity',
        'gap-bridging',
        'isolation',
        'crossing-distortion',
        'decoder-withstand',
        'conductor-heat',
        'joint-heat',
      ]),
    )
    const said = report.findings.map((f: { text: string }) => f.text).join(' ')
    expect(said).toMatch(/a short may never trip/)
    expect(said).toMatch(/feeder of spur\.5 is open/)
    expect(report.polarity.routes[0].gaps.sort()).toEqual(['L.diverging', 'L.straight'])
    const best = report.advice.list[0]
    expect(best.what).toMatch(/spur\.5/)
    expect(report.advice.list.map((a: { kind: string }) => a.kind)).toContain('thicker bus')
  })

  it('has three districts and about forty sections in the exhibition layout', async () => {
    const report = JSON.parse((await run(example('exhibition'), { json: true, quick: true })).out)
    expect(report.districts.map((d: { name: string }) => d.name)).toEqual(['main', 'yard', 'branch'])
    const sections = report.sections.filter((s: { name: string }) => !/^[TYB]\d/.test(s.name))
    expect(sections.length).toBeGreaterThan(35)
    expect(sections.length).toBeLessThan(45)
  })

  it('writes maps, curves and netlists', async () => {
    const svg = join(folder, 'maps')
    const { out, notes } = await run(example('exhibition'), {
      svg,
      netlist: join(folder, 'track.cir'),
      quick: true,
    })
    expect(readdirSync(svg).sort()).toEqual([
      'edge-branch.svg',
      'edge-main.svg',
      'edge-yard.svg',
      'shorts.svg',
      'voltage-worst.svg',
      'voltage.svg',
    ])
    for (const file of readdirSync(svg))
      expect(readFileSync(join(svg, file), 'utf8')).not.toMatch(/NaN|undefined/)
    expect(readFileSync(join(folder, 'track.cir'), 'utf8')).toMatch(/^\* Halfbit[\s\S]*\.op\n\.end\n$/)
    expect(readFileSync(join(folder, 'track-edge-yard.cir'), 'utf8')).toMatch(/\.tran/)
    expect(notes).toMatch(/Wrote voltage\.svg/)
    for (const head of [
      'Power districts',
      'Coin test per joint',
      'Polarity',
      'What one fault would do',
      'Conductors',
    ])
      expect(out).toContain(head)
    expect(out).not.toMatch(/NaN|undefined|∞/)
  })

  it('tells everything with one fault', async () => {
    const fault = 'open-feeder:south.3'
    const { out } = await run(example('exhibition'), { fault, quick: true })
    expect(out).toMatch(/^With one fault: the feeder of south\.3 is open\./)
    expect(out).not.toMatch(/What one fault would do/)
    const json = JSON.parse((await run(example('exhibition'), { fault, quick: true, json: true })).out)
    expect(json.fault).toMatchObject({ id: fault, kind: 'open feeder' })
    const [was] = json.fault.without.filter((d: { name: string }) => d.name === 'main')
    const [is] = json.districts.filter((d: { name: string }) => d.name === 'main')
    expect(is.worstVolt.low).toBeLessThan(was.worstVolt)
    await expect(run(example('exhibition'), { fault: 'open-feeder:suoth.3' })).rejects.toThrow(
      /the nearest is "south\.3"/,
    )
  })

  it('tells how an edge rings at a place, with a netlist and a drawing of its own', async () => {
    const svg = join(folder, 'at')
    const options = {
      'ringing-at': 'south.3@250 mm',
      quick: true,
      svg,
      netlist: join(folder, 'at.cir'),
    } as const
    const { out } = await run(example('exhibition'), options)
    expect(out).toMatch(/An edge at south\.3, 0\.25 m/)
    expect(out).toMatch(/of bus \("front"\), 0\.25 m of feeder \(south\.3\), 0\.2\s+m of rails/)
    expect(readdirSync(svg)).toContain('edge-at-south-3-0-25-m.svg')
    expect(readFileSync(join(folder, 'at-edge-at-south-3-0-25-m.cir'), 'utf8')).toMatch(
      /is south\.3 {2}0\.25 m/,
    )
    const json = JSON.parse((await run(example('exhibition'), { ...options, json: true })).out)
    expect(json.ringingAt.place).toBe('south.3, 0.25 m')
    expect(json.ringingAt.edges.far.peakVolt).toBeGreaterThan(13)
    await expect(run(example('exhibition'), { 'ringing-at': 'south.3@much' })).rejects.toThrow(
      /expected after "@"/,
    )
  })

  it('ends at Ctrl-C, large as the railroad may be', async () => {
    const file = join(folder, 'large.yaml')
    const text = readFileSync(example('shelf'), 'utf8')
    const many = text.replace(
      /\n {2}sections:\n/,
      '\n  sections:\n    far: { count: 20000, length: 1 m, feeders: {} }\n',
    )
    expect(many).not.toBe(text)
    writeFileSync(file, many)
    const stop = new AbortController()
    setTimeout(() => stop.abort(), 300)
    const { status, out, notes } = await run(file, {}, stop.signal)
    expect({ status, out }).toEqual({ status: 3, out: '' })
    expect(notes).toMatch(/Interrupted/)
  }, 30_000)

  it('names the line of a problem', async () => {
    const file = join(folder, 'bad.yaml')
    writeFileSync(file, readFileSync(example('shelf'), 'utf8').replace('section: mill', 'section: mlil'))
    await expect(run(file)).rejects.toThrow(/no section "mlil"; the nearest is "mill"/)
  })

  it('writes a proposal into the file with --apply, keeps its comments, and refuses what is not there', async () => {
    const folder = mkdtempSync(join(tmpdir(), 'halfbit-apply-'))
    try {
      const file = join(folder, 'halfbit.yaml')
      const before = readFileSync(example('shelf'), 'utf8').replace(
        'feeders: { at: 2.2 m } }\n    coal',
        '} # kept\n    coal',
      )
      writeFileSync(file, before)
      const advice = JSON.parse((await run(file, { apply: '1', json: true })).out).advice
      expect(advice.list[0].edit).toBeDefined()
      const after = readFileSync(file, 'utf8')
      expect(after).not.toBe(before)
      expect(after).toContain('# kept')
      expect((await run(file, { quick: true, json: true })).status).toBe(0)
      await expect(run(file, { apply: '1', quick: true })).rejects.toThrow(
        /expected no --quick beside it, which leaves the proposals out/,
      )
    } finally {
      rmSync(folder, { recursive: true, force: true })
    }
  }, 240_000)
})
