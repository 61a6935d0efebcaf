/**
 * The loopback server of the workbench. It listens on 127.0.0.1 only, answers only requests that name it as their
 * host, gives files of the design's folder only to who holds the random token, and tells the browser to load nothing
 * from elsewhere.
 */
import { randomBytes, timingSafeEqual } from 'node:crypto'
import { createReadStream, existsSync, readFileSync, statSync, unwatchFile, watchFile } from 'node:fs'
import { createServer, type IncomingMessage, type Server, type ServerResponse } from 'node:http'
import type { AddressInfo } from 'node:net'
import * as system from 'node:path'
import { basename, dirname, extname } from 'node:path'
import { DesignFolder, DesignText, Refused, utf8 } from './folder.js'

export interface Workbench {
  /** Address with the token in its fragment, which no server or log sees. */
  url: string
  port: number
  token: string
  close(): Promise<void>
}

const DESIGN_LIMIT = 4 << 20

const TYPES: Record<string, string> = {
  '.html': 'text/html; charset=utf-8',
  '.js': 'text/javascript; charset=utf-8',
  '.css': 'text/css; charset=utf-8',
  '.svg': 'image/svg+xml',
  '.png': 'image/png',
  '.json': 'application/json; charset=utf-8',
  '.webmanifest': 'application/manifest+json',
  '.wasm': 'application/wasm',
  '.woff2': 'font/woff2',
  '.yaml': 'text/plain; charset=utf-8',
  '.txt': 'text/plain; charset=utf-8',
}

const HEADERS: Record<string, string> = {
  'Content-Security-Policy':
    "default-src 'none'; script-src 'self' 'wasm-unsafe-eval'; style-src 'self'; img-src 'self' data: blob:; " +
    "font-src 'self'; connect-src 'self'; worker-src 'self'; manifest-src 'self'; base-uri 'none'; form-action 'none'; " +
    "frame-ancestors 'none'",
  'X-Content-Type-Options': 'nosniff',
  'Referrer-Policy': 'no-referrer',
  'Cross-Origin-Opener-Policy': 'same-origin',
  'Cross-Origin-Resource-Policy': 'same-origin',
  'Cache-Control': 'no-store',
}

/**
 * Serve the workbench for one design.
 * @param design path of the design file; @param assets folder of the built pages; @param port 0 for any free one.
 */
export async function serveWorkbench(design: string, assets: string, port = 0): Promise<Workbench> {
  const token = randomBytes(24).toString('base64url')
  const folder = new DesignFolder(dirname(design))
  const text = new DesignText(design)
  const server = createServer((request, response) => {
    for (const [name, value] of Object.entries(HEADERS)) response.setHeader(name, value)
    answer(request, response, { token, folder, text, assets, server }).catch((error: unknown) => {
      const refused = error instanceof Refused ? error : undefined
      if (!response.headersSent)
        sendJson(response, refused?.status ?? 500, { error: refused?.message ?? 'internal fault' })
      else response.destroy()
    })
  })
  server.requestTimeout = 30_000
  server.headersTimeout = 10_000
  await new Promise<void>((ready, failed) => {
    server.once('error', failed)
    server.listen(port, '127.0.0.1', ready)
  })
  const actual = (server.address() as AddressInfo).port
  return {
    port: actual,
    token,
    url: `http://127.0.0.1:${actual}/#token=${token}`,
    close: () =>
      new Promise((done) => {
        server.close(() => done())
        server.closeAllConnections()
      }),
  }
}

interface Served {
  token: string
  folder: DesignFolder
  text: DesignText
  assets: string
  server: Server
}

async function answer(request: IncomingMessage, response: ServerResponse, served: Served): Promise<void> {
  const { port } = served.server.address() as AddressInfo
  const hosts = [`127.0.0.1:${port}`, `localhost:${port}`]
  // A page of another site that resolves its own name to this machine still names itself as host.
  if (!hosts.includes(request.headers.host ?? '')) throw new Refused(421, 'not this host')
  const { origin } = request.headers
  if (origin !== undefined && !hosts.some((h) => origin === `http://${h}`))
    throw new Refused(403, 'not from this page')
  const site = request.headers['sec-fetch-site']
  if (site !== undefined && site !== 'same-origin' && site !== 'none')
    throw new Refused(403, 'not from this page')
  const asked = request.url ?? '/'
  if (!URL.canParse(asked, 'http://127.0.0.1')) throw new Refused(400, 'not an address')
  const url = new URL(asked, 'http://127.0.0.1')
  if (url.pathname.startsWith('/api/')) return answerApi(request, response, url, served)
  if (request.method !== 'GET' && request.method !== 'HEAD') throw new Refused(405, 'only GET')
  return sendAsset(response, url.pathname, served.assets)
}

async function answerApi(
  request: IncomingMessage,
  response: ServerResponse,
  url: URL,
  served: Served,
): Promise<void> {
  const given = Buffer.from(String(request.headers['x-halfbit-token'] ?? ''))
  const wanted = Buffer.from(served.token)
  if (given.length !== wanted.length || !timingSafeEqual(given, wanted))
    throw new Refused(401, 'the token is missing')
  const call = `${request.method} ${url.pathname}`
  const name = basename(served.text.path)
  if (call === 'GET /api/design') return sendJson(response, 200, { name, ...served.text.read() })
  if (call === 'PUT /api/design') {
    const known = request.headers['if-match']
    if (known === undefined) throw new Refused(428, 'If-Match must name the revision you know')
    const body = await readBody(request, DESIGN_LIMIT)
    const { written, ...now } = served.text.write(body, known)
    return sendJson(response, written ? 200 : 409, { name, ...now })
  }
  if (call === 'GET /api/files') return sendJson(response, 200, { files: served.folder.list() })
  if (call === 'GET /api/file')
    return sendFile(request, response, served.folder.find(url.searchParams.get('path') ?? ''))
  if (call === 'GET /api/changes') return sendChanges(request, response, served.text)
  throw new Refused(404, 'no such call')
}

/** One line of JSON each time the design changes on disk, until the reader leaves. */
function sendChanges(request: IncomingMessage, response: ServerResponse, text: DesignText): void {
  response.writeHead(200, { 'Content-Type': 'application/x-ndjson' })
  let last = ''
  const tell = () => {
    let revision: string
    try {
      revision = text.read().revision
    } catch {
      return // Between two halves of another editor's rename.
    }
    if (revision === last) return
    last = revision
    response.write(`${JSON.stringify({ revision })}\n`)
  }
  tell()
  // Polling sees editors that replace the file as well as those that write into it.
  const watch = () => tell()
  watchFile(text.path, { interval: 300 }, watch)
  request.once('close', () => unwatchFile(text.path, watch))
}

async function readBody(request: IncomingMessage, limit: number): Promise<string> {
  const parts: Buffer[] = []
  let size = 0
  for await (const part of request as AsyncIterable<Buffer>) {
    size += part.length
    // What is too long is read on a while and thrown away, so that the sender hears why.
    if (size > 16 * limit) request.destroy()
    else if (size <= limit) parts.push(part)
  }
  if (size > limit) throw new Refused(413, `more than ${limit} bytes`)
  const text = utf8(Buffer.concat(parts))
  if (text === undefined) throw new Refused(400, 'not UTF-8')
  return text
}

function sendJson(response: ServerResponse, status: number, value: unknown): void {
  response.writeHead(status, { 'Content-Type': 'application/json; charset=utf-8' })
  response.end(JSON.stringify(value))
}

/** A file, or the part of it that a Range header asks for, so that a page can read gigabytes piece by piece. */
function sendFile(request: IncomingMessage, response: ServerResponse, path: string): void {
  const { size } = statSync(path)
  const headers: Record<string, string | number> = {
    'Content-Type': 'application/octet-stream',
    'Accept-Ranges': 'bytes',
  }
  const range = /^bytes=(\d{1,15})-(\d{0,15})$/.exec(request.headers.range ?? '')
  let from = 0
  let to = size - 1
  if (range) {
    from = Number(range[1])
    to = range[2] ? Math.min(Number(range[2]), size - 1) : size - 1
    if (from > to) {
      response.writeHead(416, { 'Content-Range': `bytes */${size}` })
      response.end()
      return
    }
    headers['Content-Range'] = `bytes ${from}-${to}/${size}`
  }
  headers['Content-Length'] = Math.max(0, to - from + 1)
  response.writeHead(range ? 206 : 200, headers)
  if (size === 0) response.end()
  else
    createReadStream(path, { start: from, end: to })
      .on('error', () => response.destroy())
      .pipe(response)
}

/**
 * The file of a page.
 * @param rules how the system writes paths.
 * @throws Refused 403 for one that is not below the pages.
 */
export function assetPath(assets: string, pathname: string, rules: system.PlatformPath = system): string {
  const path = rules.join(assets, pathname === '/' ? 'index.html' : pathname)
  if (path.includes('\0') || !path.startsWith(assets + rules.sep))
    throw new Refused(403, 'outside the workbench')
  return path
}

function sendAsset(response: ServerResponse, pathname: string, assets: string): void {
  const path = assetPath(assets, decoded(pathname))
  if (!existsSync(path) || !statSync(path).isFile()) throw new Refused(404, 'no such page')
  response.writeHead(200, { 'Content-Type': TYPES[extname(path)] ?? 'application/octet-stream' })
  response.end(readFileSync(path))
}

function decoded(pathname: string): string {
  try {
    return decodeURIComponent(pathname)
  } catch {
    throw new Refused(400, 'not an address')
  }
}
