import { createHash } from 'node:crypto'
import { cpSync, existsSync, mkdirSync, readdirSync, readFileSync, statSync, writeFileSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { defineConfig, type Plugin } from 'vite'

const at = (path: string) => fileURLToPath(new URL(path, import.meta.url))
const dist = at('dist/web')
const examples = at('examples')

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
        .replace("['__FILES__']", JSON.stringify(['./', ...kept]))
      writeFileSync(join(dist, 'offline.js'), worker)
    },
  }
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
  },
  worker: { format: 'es' },
  oxc: { jsx: { runtime: 'automatic', importSource: 'preact' } },
  define: { HALFBIT_VERSION: JSON.stringify(JSON.parse(readFileSync(at('package.json'), 'utf8')).version) },
  plugins: [standAlone()],
})
