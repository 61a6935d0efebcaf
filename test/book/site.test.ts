/** The published page: whole, valid, accessible, and true to its sources. */
import { createHash } from 'node:crypto'
import { readFileSync } from 'node:fs'
import { parse } from 'parse5'
import { describe, expect, it } from 'vitest'
import { atSource, FORMULAS, inUnit, makeSite, statusLine, withPacket } from '../../src/book/index.js'
import { edgesOfPacket } from './edges.js'
import { bookOf, loadedExample } from './made.js'

describe.each(['shelf', 'two-tracks', 'exhibition'])('the site of %s', (name) => {
  const made = bookOf(loadedExample(name))
  const designText = readFileSync(new URL(`../../examples/${name}/halfbit.yaml`, import.meta.url), 'utf8')
  const site = makeSite({ made, designText, licence: 'CC0 1.0' }, (text) => new TextEncoder().encode(text))
  const pages = [...site.files].filter(([file]) => file.endsWith('.html'))

  it('has strictly valid pages whose links lead somewhere inside', () => {
    expect(pages.map(([file]) => file).sort()).toEqual([
      'book.html',
      'guide.html',
      'index.html',
      'proof.html',
    ])
    for (const [file, html] of pages) {
      const faults: string[] = []
      parse(html, { onParseError: (e) => faults.push(e.code) })
      expect(faults, file).toEqual([])
      const ids = new Set([...html.matchAll(/ id="([^"]+)"/g)].map(([, id]) => id))
      for (const [, target] of html.matchAll(/(?:href|src|srcset)="([^"]+)"/g)) {
        if (target!.startsWith('#')) expect(ids, `${file} ${target}`).toContain(target!.slice(1))
        else expect([...site.files.keys()], `${file} ${target}`).toContain(target)
      }
      expect(html, file).not.toMatch(/<script|https?:\/\/(?!www\.w3\.org)|@import/)
    }
  })

  it('gives every picture light and dark and with a text', () => {
    const index = site.files.get('index.html')!
    const pictures = [...index.matchAll(/<img [^>]*>/g)].map(([tag]) => tag)
    expect(pictures.length).toBeGreaterThanOrEqual(5)
    for (const tag of pictures) expect(/ alt="([^"]{20,})"/.test(tag), tag).toBe(true)
    for (const file of site.files.keys())
      if (file.endsWith('-light.svg')) {
        const [light, dark] = [site.files.get(file)!, site.files.get(file.replace('-light', '-dark'))!]
        expect(dark).not.toBe(light)
        expect(light + dark).not.toContain('prefers-color-scheme')
      }
  })

  it('lists the sum of every download as an independent tool computes it', () => {
    const sums = site.files
      .get('SHA256SUMS')!
      .trim()
      .split('\n')
      .map((l) => l.split('  ') as [string, string])
    expect(sums.map(([, file]) => file).sort()).toEqual(
      [...site.files.keys()].filter((f) => f !== 'SHA256SUMS' && f !== 'index.html').sort(),
    )
    for (const [sum, file] of sums)
      expect(sum, file).toBe(createHash('sha256').update(site.files.get(file)!).digest('hex'))
  })

  it('follows a packet whose edges are those that the signal room makes', () => {
    const packet = site.packet!
    const { option } = made.sources.timers.get(packet.output)!
    expect(packet.bits.flatMap((b) => [b.beginsUs, b.turnsUs]).map((t) => t.toFixed(3))).toEqual(
      edgesOfPacket(packet, option!).map((t) => t.toFixed(3)),
    )
  })

  it('has no figure in the guide that is not its source’s', () => {
    const data = withPacket(made.sources.data, site.packet!)
    for (const { text } of site.guide) {
      for (const f of text.figures) {
        const values = f.from.map((path) => atSource(data, path) as number)
        const formula: ((...v: number[]) => number) | undefined = f.by && FORMULAS[f.by]
        expect(f.value).toBe(formula ? formula(...values) : values[0])
      }
      let rest = text.text
      for (const f of text.figures) rest = rest.replace(f.text, '')
      rest = rest
        .replace(site.packet!.hex, '')
        .replace(site.packet!.says, '')
        .replace(`address ${site.packet!.address}`, '')
      rest = rest.replace(/\b[a-z-]+\d*\.\d+/g, '')
      expect(rest, text.text).not.toMatch(/\d/)
    }
  })

  it('prints each figure of the guide as its value, and each edge in its table', () => {
    for (const { text } of site.guide)
      for (const f of text.figures)
        expect(
          [2, 3, 4, 5, 6].map((digits) => inUnit(f.value, f.unit, digits)),
          f.text,
        ).toContain(f.text)
    const { option } = made.sources.timers.get(site.packet!.output)!
    const cells = [...site.files.get('guide.html')!.matchAll(/<td>([\d.]+) us<\/td>/g)].map((m) =>
      Number(m[1]),
    )
    const edges = edgesOfPacket(site.packet!, option!)
    expect(cells.length).toBe(edges.length)
    cells.forEach((us, i) => {
      expect(us, `edge ${i}`).toBeCloseTo(edges[i]!, 3)
    })
  })

  it('holds the files that the design names, in their places and with their sums', () => {
    const beside = new Map([
      ['firmware/station.elf', new Uint8Array([127, 69, 76, 70, 0, 255])],
      ['index.html', new Uint8Array([0])],
      ['book.html', new Uint8Array([0])],
    ])
    const own = makeSite({ made, designText, beside }, (text) => new TextEncoder().encode(text))
    expect([...own.beside.keys()]).toEqual(['firmware/station.elf'])
    const sum = createHash('sha256').update(beside.get('firmware/station.elf')!).digest('hex')
    expect(own.files.get('SHA256SUMS')).toContain(`${sum}  firmware/station.elf\n`)
    const index = own.files.get('index.html')!
    const row = index.split('<tr>').find((r) => r.includes('<a href="firmware/station.elf">'))
    expect(row).toContain('>6 bytes<')
    expect(row).toContain(sum)
    expect(own.files.get('book.html')).toBe(site.files.get('book.html'))
  })

  it('says of the guide’s packet what an encoder and the design make of it', () => {
    const { one, zero } = made.sources.timers.get(site.packet!.output)!.option!
    const text = site.guide.map((g) => g.text.text).join('\n')
    const us = (value: number) => inUnit(value, 'us')
    expect(text).toContain(
      `A one is short: the pin is high for ${us(one.us)} and then low for ${us(one.us)}.`,
    )
    expect(text).toContain(`A zero is long: ${us(zero.us)} high and ${us(zero.us)} low.`)
    expect(text).toContain(
      `counts ${one.ticks} ticks of its clock for each half of a one and ${zero.ticks} for`,
    )
    const edges = edgesOfPacket(site.packet!, { one, zero } as never)
    const halves = edges.slice(1).map((t, i) => t - edges[i]!)
    const zeros = halves.filter((h, i) => i % 2 === 0 && Math.abs(h - zero.us) < 1).length
    expect(text).toContain(`that makes ${edges.length / 2 - zeros} ones and ${zeros} zeros.`)
    expect(text).toContain(`After ${us(edges.at(-1)! + one.us)} it has the whole packet`)
    const { power } = made.sources.loaded.design
    const stage = made.sources.stages.find((d) => d.output === site.packet!.output)!
    const { voltage, tolerance } = power!.supplies[stage.supplyName]!
    const volt = Number(/there are always ([\d.]+) V/.exec(text)![1])
    expect(Math.abs(volt / voltage - 1)).toBeLessThanOrEqual(tolerance + 0.01)
    const [, low, high] = /still gets ([\d.]+)(?: V)? to ([\d.]+) V/.exec(text) ?? []
    if (high !== undefined) {
      expect(Number(low)).toBeLessThan(Number(high))
      expect(Number(high)).toBeLessThanOrEqual(voltage * (1 + tolerance))
    }
  })

  it('draws bit, packet and windows with the numbers of the timer and the standard, and no others', () => {
    const { one, zero } = made.sources.timers.get(site.packet!.output)!.option!
    const limits = (['one-half', 'zero-half'] as const).flatMap((id) => {
      const { min, max } = made.sources.proof.rows.find((r) => r.clause === id)!.window
      return [min, max].filter((x) => x !== undefined)
    })
    const numbers = (text: string) => [...text.matchAll(/([\d.]+) us/g)].map((m) => Number(m[1]))
    const index = site.files.get('index.html')!
    const alt = (name: string) =>
      new RegExp(`src="figures/${name}-light.svg" alt="([^"]+)"`).exec(index)![1]!.replaceAll('µs', 'us')
    const words = (name: string) =>
      [...site.files.get(`figures/${name}-light.svg`)!.matchAll(/<text [^>]*>([^<]*)<\/text>/g)]
        .map((m) => m[1]!.replaceAll('µs', 'us'))
        .join('; ')
    const halves = [one.us, one.us, zero.us, zero.us]
    expect(numbers(alt('bit'))).toEqual(halves)
    expect(numbers(words('bit'))).toEqual(halves)
    const windows = [one.us, ...limits.slice(0, 2), zero.us, ...limits.slice(2)]
    expect(numbers(alt('half-bits'))).toEqual(windows)
    expect(numbers(words('half-bits'))).toEqual(windows)
    const lasts = edgesOfPacket(site.packet!, { one, zero } as never)
    const end = lasts.at(-1)! + one.us
    expect(numbers(alt('packet'))[0]).toBeCloseTo(end, 2)
    expect(alt('packet')).toContain(`${lasts.length / 2} bits`)
    // What is drawn: each half as long as it lasts, and its mark where it lies in its window.
    const [, , ...path] = /d="M([\d.]+) 40H([\d.]+)V90H([\d.]+)V40H([\d.]+)V90H([\d.]+)"/.exec(
      site.files.get('figures/bit-light.svg')!,
    )!
    const at = path.map(Number)
    expect((at[2]! - at[1]!) / (at[1]! - at[0]!)).toBeCloseTo(zero.us / one.us, 6)
    const half = site.files.get('figures/half-bits-light.svg')!
    const marks = [...half.matchAll(/<line class="m" x1="([\d.]+)"/g)].map((m) => Number(m[1]))
    const boxes = [...half.matchAll(/<rect class="b" x="([\d.]+)"/g)].map((m) => Number(m[1]))
    const perUs = (marks[0]! - boxes[0]!) / (one.us - limits[0]!)
    expect(perUs).toBeGreaterThan(1)
    expect((marks[1]! - boxes[1]!) / (zero.us - limits[2]!)).toBeCloseTo(perUs, 3)
  })

  it('says in the text of each further picture which part of the station it shows', () => {
    const index = site.files.get('index.html')!
    const alts = new Map(
      [...index.matchAll(/src="figures\/([\w-]+)-light\.svg" alt="([^"]+)"/g)].map(([, n, alt]) => [
        n!,
        alt!,
      ]),
    )
    for (const { name } of made.sources.stages)
      expect(alts.get(`protection-${name.replace(/[^\w-]+/g, '-')}`), name).toContain(`district ${name}:`)
    expect(alts.get('power-stage')).toMatch(/^Wiring diagram: .*each wire with its number/)
    if (made.map !== undefined) expect(alts.get('map')).toMatch(/track seen from above.*turnout/)
    const stage = made.sources.stages.find((d) => d.output === site.packet!.output)!
    const sheet = made.sheets.find((x) => x.diagram.parts.some((p) => p.id === `driver ${stage.driverName}`))!
    const says = alts.get('driver')!
    expect(says).toContain(`Driver ${stage.driverName}`)
    const drawn = new Set(
      [...site.files.get('figures/driver-light.svg')!.matchAll(/>(W\d+)</g)].map(([, wire]) => wire!),
    )
    expect(new Set(says.match(/W\d+/g))).toEqual(drawn)
    expect(drawn.size).toBe(sheet.wires.length)
  })

  it('names on its front page the sums, sizes and counts of what it holds', () => {
    const index = site.files.get('index.html')!
    for (const [file, text] of site.files) {
      if (file === 'index.html' || file === 'SHA256SUMS') continue
      const sum = createHash('sha256').update(text).digest('hex')
      const row = index.split('<tr>').find((r) => r.includes(`<a href="${file}">${file}</a>`))
      expect(row, file).toContain(`>${Buffer.byteLength(text)} bytes<`)
      expect(row, file).toContain(`<code>${sum}</code>`)
    }
    expect(index).toContain(statusLine(made))
    expect(site.files.get('status.md')).toBe(`${statusLine(made)}\n`)
    const of = (list: string) => (index.match(new RegExp(list, 'g')) ?? []).length
    expect(of('<img ')).toBe([...site.files.keys()].filter((f) => f.endsWith('-light.svg')).length)
  })

  it('says in its status line what is shown and what is not', () => {
    const { counts } = made.sources.proof
    const line = statusLine(made)
    expect(line).toContain(`${counts.met} met`)
    expect(line).toContain(`${counts['not shown']} not shown`)
    expect(line).toContain(`${counts.broken} broken, ${counts.undecided} undecided`)
    const all = Object.values(counts).reduce((sum, n) => sum + n, 0)
    expect(line).toContain(`of ${all} clauses (design ${made.book.sum})`)
    expect(all).toBe(made.sources.proof.rows.length)
    expect(line).toContain(made.sources.proof.profile.edition)
  })
})

describe('the packet of a design that gives no preamble', () => {
  it('begins with as many ones as its firmware sends, in guide and picture', () => {
    const { design, ...rest } = loadedExample('shelf')
    const { preamble: _, ...main } = design.signal.outputs['main']!
    const made = bookOf({
      ...rest,
      design: { ...design, signal: { ...design.signal, outputs: { main } } },
    } as never)
    const site = makeSite({ made, designText: '' }, (text) => new TextEncoder().encode(text))
    const ones = site.packet!.bits.filter((b) => b.part === 'preamble').length
    // S-9.2 B: 14 at least.
    expect(ones).toBe(14)
    expect(made.book.constants.find((c) => c.name === 'TRACK_PREAMBLE')!.value).toBe('14')
    const drawn = /d="(M[^"]*H[^"]*V[^"]*)"/.exec(site.files.get('figures/packet-light.svg')!)![1]!
    // Each bit falls once and rises once.
    expect(drawn.split('V').length - 1).toBe(2 * site.packet!.bits.length)
  })
})
