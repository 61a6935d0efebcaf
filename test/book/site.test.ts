/** The published page: whole, valid, accessible, and true to its sources. */
import { createHash } from 'node:crypto'
import { readFileSync } from 'node:fs'
import { parse } from 'parse5'
import { describe, expect, it } from 'vitest'
import { atSource, FORMULAS, makeSite, statusLine, withPacket } from '../../src/book/index.js'
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

  it('says in its status line what is shown and what is not', () => {
    const { counts } = made.sources.proof
    const line = statusLine(made)
    expect(line).toContain(`${counts.met} met`)
    expect(line).toContain(`${counts['not shown']} not shown`)
    expect(line).toContain(made.sources.proof.profile.edition)
  })
})
