// Puts the compiled command line into few files, dist/run: a command loads hundreds of modules, and finding, reading and
// linking each costs more than running them. Paths stay right, as dist/run is as deep as dist/cli.
import { createHash } from 'node:crypto'
import { existsSync, readFileSync, writeFileSync } from 'node:fs'
import { build } from 'vite'
import { root } from './setup.mjs'

/** The command, and what it starts as threads. */
const ENTRIES = [
  'main',
  'reading-worker',
  'traffic-worker',
  'proof-worker',
  'campaign-worker',
  'bench-worker',
]
const folder = `${root}dist/run`
const stamp = `${folder}/.made-of`

// The compiler writes this anew whenever anything that the command line is made of has changed.
const made = ['cli', 'domain']
  .reduce((sum, part) => sum.update(readFileSync(`${root}dist/${part}.tsbuildinfo`)), createHash('sha256'))
  .digest('hex')
if (!existsSync(stamp) || readFileSync(stamp, 'utf8') !== made) {
  await build({
    configFile: false,
    root,
    logLevel: 'warn',
    publicDir: false,
    // All of it but the SPICE engine, which is an extra that may come later.
    ssr: { noExternal: true, external: ['eecircuit-engine'] },
    build: {
      ssr: true,
      target: 'node20',
      outDir: folder,
      emptyOutDir: true,
      minify: false,
      rolldownOptions: {
        input: Object.fromEntries(ENTRIES.map((name) => [name, `${root}dist/cli/${name}.js`])),
        output: { entryFileNames: '[name].js', chunkFileNames: '[name]-[hash].js' },
      },
    },
  })
  const yaml = readFileSync(`${root}node_modules/yaml/LICENSE`, 'utf8').trim()
  writeFileSync(`${folder}/licences.txt`, `These files hold this package.\n\nyaml\n\n${yaml}\n`)
  writeFileSync(stamp, made)
}
