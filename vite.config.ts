import { execFileSync } from 'node:child_process'
import { createHash } from 'node:crypto'
import { cpSync, existsSync, mkdirSync, readdirSync, readFileSync, statSync, writeFileSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { defineConfig, type Plugin } from 'vite'
import { checkFirstLoad } from './scripts/first-load.mjs'

const at = (path: string) => fileURLToPath(new URL(path, import.meta.url))
const dist = at('dist/web')
const examples = at('examples')

/** What is bundled into the pages that others wrote, with their licences as they ask for it. */
function licences(): string {
  const list = ['preact', '@preact/signals', '@preact/signals-core', 'yaml', 'eecircuit-engine'].flatMap(
    (name) => {
      const licence = at(`node_modules/${name}/LICENSE`)
      return existsSync(licence) ? [`${name}\n\n${readFileSync(licence, 'utf8').trim()}\n`] : []
    },
  )
  return `The pages of the workbench hold these packages.\n\n${list.join('\n----\n\n')}\nThe last holds ngspice, compiled to WebAssembly; its sources and licences: https://ngspice.sourceforge.io\n`
}

/** The SPICE engine, and the documentation: kept for use without a network when the workbench already is. */
const isLater = (name: string) => /eecircuit-engine|spice.*\.wasm$|^docs\//.test(name)

/**
 * What the pages need to work without a server: the examples with a list of their files, and a worker that keeps all
 * of it for use without a network.
 */
function standAlone(): Plugin {
  return {
    name: 'halfbit-stand-alone',
    closeBundle() {
      const list = readdirSync(examples)
        .filter((name) => existsSync(join(examples, name, 'halfbit.yaml')))
        .sort()
        .map((name) => {
          const from = join(examples, name)
          const files = (readdirSync(from, { recursive: true }) as string[])
            .filter((file) => /\.(yaml|stimulus|gz|elf|hex)$/.test(file))
            .sort()
            .map((file) => {
              const to = join(dist, 'examples', name, file)
              mkdirSync(dirname(to), { recursive: true })
              cpSync(join(from, file), to)
              return { path: file.replaceAll('\\', '/'), bytes: statSync(to).size }
            })
          const title = /^name: *(.+)$/m.exec(readFileSync(join(from, 'halfbit.yaml'), 'utf8'))?.[1] ?? name
          return { name, title, files }
        })
      writeFileSync(join(dist, 'examples/list.json'), JSON.stringify(list))
      writeFileSync(join(dist, 'licences.txt'), licences())
      console.error(checkFirstLoad(dist))
      execFileSync(process.execPath, [at('scripts/docs/build.mjs'), join(dist, 'docs')], { stdio: 'inherit' })
      const kept = (readdirSync(dist, { recursive: true }) as string[])
        .filter(
          (name) => statSync(join(dist, name)).isFile() && name !== 'offline.js' && !name.startsWith('.'),
        )
        .map((name) => name.replaceAll('\\', '/'))
        .sort()
      const sum = createHash('sha256')
      for (const name of kept) sum.update(readFileSync(join(dist, name)))
      const worker = readFileSync(at('src/web/offline.js'), 'utf8')
        .replace('__VERSION__', sum.digest('hex').slice(0, 16))
        .replace("['__FILES__']", JSON.stringify(['./', ...kept.filter((name) => !isLater(name))]))
        .replace("['__LATER__']", JSON.stringify(kept.filter(isLater)))
      writeFileSync(join(dist, 'offline.js'), worker)
    },
  }
}

const WASM = /new URL\("data:application\/wasm;base64,([^"]*)", "" \+ import\.meta\.url\)/g
const NO_SPICE = '\0no-spice'

/**
 * The SPICE engine carries its program as text inside a data URL, which the page's policy does not fetch: it becomes a
 * file of its own, a quarter smaller. The package is optional: without it there is only a message.
 */
function spiceAsFile(): Plugin {
  return {
    name: 'halfbit-spice-as-file',
    enforce: 'pre',
    async resolveId(source, importer) {
      if (source !== 'eecircuit-engine') return null
      return (await this.resolve(source, importer, { skipSelf: true })) ?? NO_SPICE
    },
    load(id) {
      if (id !== NO_SPICE) return null
      return 'throw new Error("the package eecircuit-engine was not there when the pages were built")'
    },
    transform(code, id) {
      if (!/eecircuit-engine\.mjs$/.test(id)) return null
      const program = WASM.exec(code)?.[1]
      WASM.lastIndex = 0
      if (!program) throw new Error('the SPICE engine is not as it was: where is its program?')
      const file = this.emitFile({
        type: 'asset',
        name: 'spice.wasm',
        source: Buffer.from(program, 'base64'),
      })
      return { code: code.replace(WASM, `new URL(import.meta.ROLLUP_FILE_URL_${file})`), map: null }
    },
  }
}

/** What a key says about itself in the forms; what a finding means, in the documentation: no worker reads either. */
const PROSE = { forms: ['help'], findings: ['means', 'remedy'] }

interface Node {
  type: string
  start: number
  end: number
  key?: Node & { name?: string; value?: unknown }
}

/** Leaves out of the workers the sentences that only the page shows: a twentieth of the first load. */
function withoutProse(): Plugin {
  return {
    name: 'halfbit-without-prose',
    transform(code, id) {
      // The questions of `start/` are asked with their help, and the worker sends it to the page.
      if (!/[\\/]src[\\/](?!web[\\/]|start[\\/])/.test(id)) return null
      const names = code.includes('findingTable(') ? PROSE.findings : PROSE.forms
      if (!names.some((name) => code.includes(`${name}:`))) return null
      const cuts: Node[] = []
      const walk = (node: unknown): void => {
        if (typeof node !== 'object' || node === null) return
        const own = node as Node
        if (own.type === 'Property' && own.key?.type === 'Identifier' && names.includes(own.key.name ?? ''))
          cuts.push(own)
        else for (const child of Object.values(node)) walk(child)
      }
      walk(this.parse(code))
      if (cuts.length === 0) return null
      let kept = code
      for (const { start, end } of cuts.sort((a, b) => b.start - a.start))
        kept = kept.slice(0, start) + kept.slice(end).replace(/^\s*,/, '')
      return { code: kept, map: null }
    },
  }
}

/** The rooms only define things: a module of which nothing is used is left out, tables and findings included. */
const rooms = {
  treeshake: { moduleSideEffects: (id: string) => !/[\\/]src[\\/](?!web[\\/])/.test(id) },
}

// The workbench: the same build is served by `halfbit open` and works as a static site.
export default defineConfig({
  root: at('src/web'),
  base: './',
  publicDir: 'public',
  build: {
    outDir: dist,
    emptyOutDir: true,
    target: 'es2023',
    sourcemap: false,
    modulePreload: { polyfill: false },
    rolldownOptions: rooms,
  },
  worker: { format: 'es', rolldownOptions: rooms, plugins: () => [withoutProse(), spiceAsFile()] },
  oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
  define: { HALFBIT_VERSION: JSON.stringify(JSON.parse(readFileSync(at('package.json'), 'utf8')).version) },
  plugins: [standAlone()],
})
