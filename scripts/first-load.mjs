// What a browser loads before the first picture: the page, its styles, and all that the page and the worker that
// calculates import at once. Parts that are asked for later are not among them.
import { readdirSync, readFileSync } from 'node:fs'
import { join } from 'node:path'
import { gzipSync } from 'node:zlib'

export const MOST_BYTES = 300_000

/** Chunks that are asked for at once without being imported: the page itself, the stage it opens with, the worker. */
const AT_ONCE = ['start', 'proof', 'desk']

const IMPORTED = /(?:from|import)\s*["'`]\.\/([\w.-]+\.(?:js|css))["'`]/g

/** @param web folder of the built pages. @returns each file with its size compressed by gzip, bytes. */
export function firstLoad(web) {
  const assets = join(web, 'assets')
  const there = readdirSync(assets)
  const files = new Set()
  const add = (name) => {
    if (files.has(name) || !there.includes(name)) return
    files.add(name)
    if (!name.endsWith('.js')) return
    for (const [, next] of readFileSync(join(assets, name), 'utf8').matchAll(IMPORTED)) add(next)
  }
  for (const [, name] of readFileSync(join(web, 'index.html'), 'utf8').matchAll(/assets\/([\w.-]+)/g))
    add(name)
  for (const part of AT_ONCE) {
    const own = there.filter((name) => name.startsWith(`${part}-`) && /\.(js|css)$/.test(name))
    if (!own.some((name) => name.endsWith('.js')))
      throw new Error(`no chunk ${part} in ${assets}: what does the first picture need now?`)
    own.forEach(add)
  }
  const sized = [...files].map((name) => ({ name, bytes: gzipSync(readFileSync(join(assets, name))).length }))
  return [
    ...['index.html', 'mark.svg'].map((name) => ({
      name,
      bytes: gzipSync(readFileSync(join(web, name))).length,
    })),
    ...sized,
  ].sort((a, b) => b.bytes - a.bytes)
}

/** @throws Error when the first load is larger than it may be, with its largest files. */
export function checkFirstLoad(web) {
  const files = firstLoad(web)
  const bytes = files.reduce((sum, file) => sum + file.bytes, 0)
  const says = `first load: ${files.length} files, ${(bytes / 1000).toFixed(1)} kB gzip (at most ${MOST_BYTES / 1000})`
  if (bytes <= MOST_BYTES) return says
  const largest = files.slice(0, 8).map((file) => `${file.name} ${(file.bytes / 1000).toFixed(1)}`)
  throw new Error(`${says}; the largest: ${largest.join(', ')}`)
}
