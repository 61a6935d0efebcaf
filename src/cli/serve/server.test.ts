import {
  lstatSync,
  mkdirSync,
  mkdtempSync,
  readFileSync,
  rmSync,
  statSync,
  symlinkSync,
  writeFileSync,
} from 'node:fs'
import { request } from 'node:http'
import { connect } from 'node:net'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, beforeAll, describe, expect, it } from 'vitest'
import { DesignText } from './folder.js'
import { serveWorkbench, type Workbench } from './server.js'

let folder: string
let bench: Workbench
let design: string

beforeAll(async () => {
  folder = mkdtempSync(join(tmpdir(), 'halfbit-serve-'))
  const inside = join(folder, 'station')
  mkdirSync(join(inside, 'firmware'), { recursive: true })
  mkdirSync(join(folder, 'assets'))
  writeFileSync(join(folder, 'assets', 'index.html'), '<!doctype html><title>Halfbit</title>')
  writeFileSync(join(folder, 'secret.txt'), 'secret')
  design = join(inside, 'halfbit.yaml')
  writeFileSync(design, 'halfbit: 2\n')
  writeFileSync(join(inside, 'firmware', 'station.hex'), '0123456789')
  writeFileSync(join(inside, '.hidden'), 'hidden')
  symlinkSync(join(folder, 'secret.txt'), join(inside, 'link.txt'))
  symlinkSync(folder, join(inside, 'up'))
  bench = await serveWorkbench(design, join(folder, 'assets'))
})
afterAll(async () => {
  await bench.close()
  rmSync(folder, { recursive: true, force: true })
})

interface Answer {
  status: number
  headers: Record<string, string | string[] | undefined>
  body: string
}

/** A raw request: nothing normalises the path or the headers on the way. */
function ask(
  method: string,
  path: string,
  headers: Record<string, string> = {},
  body?: string | Buffer,
): Promise<Answer> {
  return new Promise((done, failed) => {
    const sent = request({ host: '127.0.0.1', port: bench.port, method, path, headers }, (response) => {
      const parts: Buffer[] = []
      response.on('data', (part: Buffer) => parts.push(part))
      response.on('end', () => {
        const { statusCode = 0, headers: answered } = response
        done({ status: statusCode, headers: answered, body: Buffer.concat(parts).toString() })
      })
    })
    sent.on('error', failed)
    sent.end(body)
  })
}
const withToken = () => ({ 'X-Halfbit-Token': bench.token })

describe('the loopback server', () => {
  it('gives pages with a strict content security policy', async () => {
    const page = await ask('GET', '/')
    expect(page.status).toBe(200)
    const policy = String(page.headers['content-security-policy'])
    expect(policy).toContain("default-src 'none'")
    expect(policy).not.toContain('unsafe-inline')
    expect(policy).toContain("frame-ancestors 'none'")
    expect(page.headers['access-control-allow-origin']).toBeUndefined()
  })

  it('gives the design and files to who holds the token', async () => {
    const answer = await ask('GET', '/api/design', withToken())
    expect(JSON.parse(answer.body)).toMatchObject({ name: 'halfbit.yaml', text: 'halfbit: 2\n' })
    const listed = await ask('GET', '/api/files', withToken())
    expect(JSON.parse(listed.body).files).toEqual([
      { path: 'firmware/station.hex', bytes: 10 },
      { path: 'halfbit.yaml', bytes: 11 },
    ])
    const part = await ask('GET', '/api/file?path=firmware/station.hex', {
      ...withToken(),
      Range: 'bytes=2-4',
    })
    expect(part).toMatchObject({ status: 206, body: '234' })
  })

  it.each([
    ['no token', {}, 401],
    ['a wrong token', { 'X-Halfbit-Token': 'x'.repeat(32) }, 401],
    ['another host name', { Host: 'evil.example:80' }, 421],
    ['another origin', { Origin: 'http://evil.example' }, 403],
    ['a null origin', { Origin: 'null' }, 403],
    ['another port of this machine', { Origin: 'http://127.0.0.1:1' }, 403],
    ['a cross-site fetch', { 'Sec-Fetch-Site': 'cross-site' }, 403],
  ] as const)('refuses %s', async (name, headers, status) => {
    const own = name.includes('token') ? {} : withToken()
    const answer = await ask('GET', '/api/design', { ...own, ...headers })
    expect(answer.status).toBe(status)
    expect(answer.body).not.toContain('halfbit: 2')
  })

  it.each([
    '../secret.txt',
    'firmware/../../secret.txt',
    '%2e%2e/secret.txt',
    '..%2fsecret.txt',
    '/etc/passwd',
    'link.txt',
    'up/secret.txt',
    '.hidden',
    'firmware',
    'C:/secret.txt',
    'a\0b',
    '..\\secret.txt',
    '',
  ])('does not give %j', async (path) => {
    for (const encoded of [encodeURIComponent(path), path.replace(/[\0\\]/g, '_')]) {
      const answer = await ask('GET', `/api/file?path=${encoded}`, withToken())
      expect(answer.status).toBeGreaterThanOrEqual(400)
      expect(answer.body).not.toContain('secret')
    }
  })

  it.each(['/../secret.txt', '/%2e%2e/secret.txt', '/..%2fsecret.txt', '/..%5csecret.txt', '/%00'])(
    'gives no page for %s',
    async (path) => {
      const answer = await ask('GET', path)
      expect(answer.status).toBeGreaterThanOrEqual(400)
      expect(answer.body).not.toContain('secret')
    },
  )

  it('writes only over the revision the writer knew', async () => {
    const { revision } = JSON.parse((await ask('GET', '/api/design', withToken())).body)
    const first = await ask(
      'PUT',
      '/api/design',
      { ...withToken(), 'If-Match': revision },
      'halfbit: 2\nname: a\n',
    )
    expect(first.status).toBe(200)
    const late = await ask(
      'PUT',
      '/api/design',
      { ...withToken(), 'If-Match': revision },
      'halfbit: 2\nname: b\n',
    )
    expect(late.status).toBe(409)
    expect(JSON.parse(late.body).text).toBe('halfbit: 2\nname: a\n')
    expect(readFileSync(design, 'utf8')).toBe('halfbit: 2\nname: a\n')
    expect((await ask('PUT', '/api/design', withToken(), 'x')).status).toBe(428)
  })

  it('refuses bodies that are too large or not UTF-8, and leaves the file alone', async () => {
    const { revision } = JSON.parse((await ask('GET', '/api/design', withToken())).body)
    const headers = { ...withToken(), 'If-Match': revision }
    const before = readFileSync(design, 'utf8')
    expect((await ask('PUT', '/api/design', headers, 'x'.repeat(5 << 20))).status).toBe(413)
    expect((await ask('PUT', '/api/design', headers, Buffer.from([0xff, 0xfe]))).status).toBe(400)
    expect(readFileSync(design, 'utf8')).toBe(before)
  })

  it('tells of changes made by another editor', async () => {
    const seen: string[] = []
    await new Promise<void>((done, failed) => {
      const sent = request(
        { host: '127.0.0.1', port: bench.port, path: '/api/changes', headers: withToken() },
        (response) => {
          response.on('data', (part: Buffer) => {
            seen.push(...part.toString().trim().split('\n'))
            if (seen.length === 1) writeFileSync(design, 'halfbit: 2\nname: changed\n')
            if (seen.length >= 2) {
              sent.destroy()
              done()
            }
          })
        },
      )
      sent.on('error', (e: NodeJS.ErrnoException) => (e.code === 'ECONNRESET' ? undefined : failed(e)))
      sent.end()
    })
    expect(JSON.parse(seen[0]!).revision).not.toBe(JSON.parse(seen[1]!).revision)
  })

  it.each(['/%E0%A4%A', '//', '/%'])(
    'answers %s as a bad request, not as a fault of its own',
    async (path) => {
      expect((await ask('GET', path)).status).toBe(400)
    },
  )

  it('says when the design is gone or is not UTF-8, and takes it again once it is back', async () => {
    const before = readFileSync(design)
    rmSync(design)
    const gone = await ask('GET', '/api/design', withToken())
    expect(gone.status).toBe(404)
    expect(gone.body).toContain('no longer at its place')
    writeFileSync(design, Buffer.from([0x61, 0xff]))
    expect((await ask('GET', '/api/design', withToken())).status).toBe(422)
    writeFileSync(design, before)
    expect((await ask('GET', '/api/design', withToken())).status).toBe(200)
  })

  it('writes where a link leads, keeps the file’s mode and its mark at the start', () => {
    const real = join(folder, 'real.yaml')
    const link = join(folder, 'station', 'linked.yaml')
    writeFileSync(real, '\ufeffhalfbit: 2\n', { mode: 0o600 })
    symlinkSync(real, link)
    const text = new DesignText(link)
    const { text: now, revision } = text.read()
    expect(now).toBe('\ufeffhalfbit: 2\n')
    expect(text.write(`${now}# more\n`, revision).written).toBe(true)
    expect(readFileSync(real, 'utf8')).toBe('\ufeffhalfbit: 2\n# more\n')
    expect(lstatSync(link).isSymbolicLink()).toBe(true)
    expect(statSync(real).mode & 0o777).toBe(0o600)
    rmSync(link)
  })

  it('listens on loopback only', async () => {
    const refused = await new Promise<boolean>((done) => {
      const socket = connect({ host: '127.0.0.2', port: bench.port })
      socket.on('connect', () => done(false))
      socket.on('error', () => done(true))
    })
    expect(refused).toBe(true)
  })
})
