/** `halfbit open` from its start to Ctrl-C. */
import { spawn } from 'node:child_process'
import { existsSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { built, halfbit, main, root } from '../contract/halfbit.js'

const folder = mkdtempSync(join(tmpdir(), 'halfbit-open-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))

describe('halfbit open', () => {
  it.skipIf(!existsSync(join(root, 'dist/web/index.html')))(
    'serves the pages and the design to who has the address, until Ctrl-C',
    async () => {
      built()
      const child = spawn(
        process.execPath,
        [main, 'open', 'examples/exhibition/halfbit.yaml', '--no-browser', '--json'],
        { cwd: root, stdio: ['ignore', 'pipe', 'ignore'] },
      )
      const line = await new Promise<string>((done) => child.stdout.once('data', (d) => done(String(d))))
      const { halfbit: version, url, port } = JSON.parse(line)
      expect(version).toBe(1)
      const page = await fetch(`http://127.0.0.1:${port}/`)
      expect(await page.text()).toContain('Halfbit workbench')
      const token = new URL(url).hash.replace('#token=', '')
      const api = `http://127.0.0.1:${port}/api/design`
      expect((await fetch(api)).status).toBe(401)
      const design = await (await fetch(api, { headers: { 'X-Halfbit-Token': token } })).json()
      expect(design.text).toContain('halfbit: 2')
      child.kill('SIGINT')
      expect(await new Promise((done) => child.on('close', done))).toBe(0)
    },
  )

  it.skipIf(!existsSync(join(root, 'dist/web/index.html')))(
    'makes an empty design in a folder without one, for the workbench to fill',
    async () => {
      built()
      const child = spawn(process.execPath, [main, 'open', '--no-browser', '--json'], {
        cwd: folder,
        stdio: ['ignore', 'pipe', 'ignore'],
      })
      const line = await new Promise<string>((done) => child.stdout.once('data', (d) => done(String(d))))
      const { url, port } = JSON.parse(line)
      const headers = { 'X-Halfbit-Token': new URL(url).hash.replace('#token=', '') }
      const design = await (await fetch(`http://127.0.0.1:${port}/api/design`, { headers })).json()
      expect(design).toMatchObject({ name: 'halfbit.yaml', text: '' })
      child.kill('SIGINT')
      await new Promise((done) => child.on('close', done))
    },
  )

  it.each([
    [['none.yaml'], /none\.yaml: no such file/],
    [[folder], /is a folder; expected a design file/],
    [
      ['examples/exhibition/halfbit.yaml', '--port', 'x'],
      /--port x; expected a whole number from 1 to 65535/,
    ],
  ])('%j is refused', (args, says) => {
    const { status, stderr } = halfbit(['open', '--no-browser', ...args])
    expect(status).toBe(2)
    expect(stderr).toMatch(says)
  })
})
