/** The package that `npm pack` yields, installed without a network into a folder of its own and used from an empty one. */
import { execFileSync, spawnSync } from 'node:child_process'
import { existsSync, mkdirSync, mkdtempSync, readdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { built, main, root } from './halfbit.js'

const folder = mkdtempSync(join(tmpdir(), 'halfbit-package-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

const offline = {
  ...process.env,
  npm_config_offline: 'true',
  npm_config_audit: 'false',
  npm_config_fund: 'false',
  npm_config_update_notifier: 'false',
  npm_config_cache: join(folder, 'cache'),
}

function npm(args: string[], cwd: string): string {
  return execFileSync('npm', args, { cwd, env: offline, encoding: 'utf8', stdio: ['ignore', 'pipe', 'pipe'] })
}

/** Tarball of a package folder. */
function pack(from: string): string {
  const [made] = JSON.parse(
    npm(['pack', from, '--json', '--ignore-scripts', '--pack-destination', folder], root),
  )
  return join(folder, made.filename)
}

/** The package and all that it needs at run time, as they stand in node_modules. */
function needed(name: string, seen = new Set<string>()): string[] {
  const path = name === '' ? root : join(root, 'node_modules', name)
  const { dependencies = {} } = JSON.parse(readFileSync(join(path, 'package.json'), 'utf8'))
  for (const inner of Object.keys(dependencies)) {
    if (seen.has(inner)) continue
    seen.add(inner)
    needed(inner, seen)
  }
  return [...seen]
}

let files: string[] = []
const home = join(folder, 'installed')
const bin = join(home, 'node_modules/.bin/halfbit')

beforeAll(() => {
  built()
  execFileSync(process.execPath, ['scripts/bundle.mjs'], { cwd: root, stdio: 'pipe' })
  const tarball = pack('.')
  files = execFileSync('tar', ['-tzf', tarball], { encoding: 'utf8' }).trim().split('\n')
  mkdirSync(home)
  // Without one npm would take a folder above for the project.
  writeFileSync(join(home, 'package.json'), '{"private":true}')
  const others = needed('').map((name) => pack(`./node_modules/${name}`))
  npm(['install', '--omit=optional', '--no-save', tarball, ...others], home)
})

function halfbit(args: string[], cwd: string) {
  return spawnSync(bin, args, { cwd, encoding: 'utf8', timeout: 120_000 })
}

describe('the package', () => {
  it('holds what it needs and nothing else', () => {
    for (const file of [
      'dist/run/main.js',
      'dist/run/licences.txt',
      'examples/exhibition/halfbit.yaml',
      'examples/exhibition/firmware/station.elf',
      'schema/halfbit-design.schema.json',
      'docs/design-file.md',
      'README.md',
      'LICENSE',
    ])
      expect(files).toContain(`package/${file}`)
    expect(
      files.filter((f) => /\.test\.|tsbuildinfo|dist\/\.test|\/src\/|node_modules|\.o$/.test(f)),
    ).toEqual([])
  })

  it('brings no SPICE, and says how to add it where it is asked for', () => {
    expect(files.filter((f) => /eecircuit|spice[^/]*\.wasm$/.test(f))).toEqual([])
    const manifest = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8'))
    expect(Object.keys({ ...manifest.dependencies, ...manifest.optionalDependencies })).toEqual(['yaml'])
    expect(manifest.peerDependenciesMeta['eecircuit-engine']).toEqual({ optional: true })
    expect(existsSync(join(home, 'node_modules/eecircuit-engine'))).toBe(false)
    const bySpice = halfbit(['track', join(root, 'examples/shelf/halfbit.yaml'), '--spice'], folder)
    expect(bySpice.status, bySpice.stderr).toBe(0)
    expect(bySpice.stderr).toContain('"npm install eecircuit-engine"')
  })

  it('works from an empty folder', { timeout: 240_000 }, () => {
    const empty = join(folder, 'empty')
    mkdirSync(empty)
    const help = halfbit(['--help'], empty)
    expect(help.status, help.stderr).toBe(0)
    expect(help.stdout).toContain('halfbit prove')
    const { version } = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8'))
    expect(halfbit(['--version'], empty).stdout).toBe(`halfbit ${version}\n`)
    expect(readdirSync(empty)).toEqual([])

    expect(halfbit(['new'], empty).status).toBe(0)
    expect(readdirSync(empty)).toEqual(['halfbit.yaml'])
    expect(halfbit(['check', 'halfbit.yaml'], empty).status).toBe(0)
    const proof = halfbit(['prove', 'halfbit.yaml', '--html', 'proof.html'], empty)
    expect(proof.status, proof.stderr).toBe(0)
    expect(existsSync(join(empty, 'proof.html'))).toBe(true)

    expect(halfbit(['new', 'demo', '--example', 'flawed'], empty).status).toBe(0)
    const flawed = halfbit(['prove', 'demo/halfbit.yaml', '--for', '300 ms', '--json'], empty)
    expect(flawed.status, flawed.stderr).toBe(1)
    expect(JSON.parse(flawed.stdout).about.inputs.map((i: { file: string }) => i.file)).toEqual(
      expect.arrayContaining(['demo/halfbit.yaml', 'demo/firmware/station.elf']),
    )
    // The bundled command says what its modules say, threads and all.
    const modules = spawnSync(
      process.execPath,
      [main, 'prove', 'demo/halfbit.yaml', '--for', '300 ms', '--json'],
      { cwd: empty, encoding: 'utf8', timeout: 120_000 },
    )
    expect(flawed.stdout).toBe(modules.stdout)
  })

  it('gives each room to programs, without anything of Node', () => {
    const { exports } = JSON.parse(readFileSync(join(root, 'package.json'), 'utf8'))
    const rooms = Object.keys(exports).filter((key) => key !== './schema')
    const code = `for (const room of ${JSON.stringify(rooms)}) {
      const door = await import('halfbit/' + room.slice(2))
      if (Object.keys(door).length === 0 && room !== './shape' && room !== './capture') throw new Error(room + ' is empty')
    }`
    const done = spawnSync(process.execPath, ['--input-type=module', '-e', code], {
      cwd: home,
      encoding: 'utf8',
    })
    expect(done.stderr).toBe('')
    expect(done.status).toBe(0)
  })
})
