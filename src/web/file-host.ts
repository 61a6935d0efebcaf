/** Where the design and its files come from: the loopback server, or the browser alone. */
import { sha256Of } from './worker/hash.js'

export interface DesignSource {
  name: string
  text: string
  revision: string
}

export type SaveResult = { saved: true; revision: string } | { saved: false; theirs: DesignSource }

export interface NamedFile {
  path: string
  bytes: number
}

/** An example that comes with the pages. */
export interface Example {
  name: string
  title: string
  files: NamedFile[]
}

export interface FileHost {
  /** Whether files come from a folder on this machine. */
  readonly kind: 'server' | 'browser'
  open(): Promise<DesignSource>
  save(text: string, known: string): Promise<SaveResult>
  files(): Promise<NamedFile[]>
  read(path: string): Promise<Uint8Array>
  /** Calls back with the revision each time someone else changes the design. @returns how to stop. */
  watch(changed: (revision: string) => void): () => void
  /** Without a server: the examples that may be opened, and the text of one, whose files are then read. */
  examples?(): Promise<Example[]>
  openExample?(name: string): Promise<string>
}

/** The loopback server gave these pages, and wants a token that they do not have. */
export class NoToken extends Error {
  constructor() {
    super(
      'this page is not at the address that `halfbit open` printed; open that address, including everything after the #',
    )
  }
}

/**
 * The server's host when the page was opened with a token in its fragment, else the browser's.
 * @throws NoToken instead of showing another design in place of the one that is served.
 */
export async function findHost(): Promise<FileHost> {
  const given = new URLSearchParams(location.hash.slice(1)).get('token')
  if (given) {
    sessionStorage.setItem('halfbit-token', given)
    history.replaceState(null, '', location.pathname + location.search)
  }
  const token = sessionStorage.getItem('halfbit-token')
  // `halfbit open` serves nothing else than this machine; anywhere else there is nobody to ask.
  if (!token && !['127.0.0.1', 'localhost'].includes(location.hostname)) return new BrowserHost()
  const host = new ServerHost(token ?? '')
  return (await host.answers()) ? host : new BrowserHost()
}

class ServerHost implements FileHost {
  readonly kind = 'server'
  readonly #token: string
  /** What the server gave when it was found; used once. */
  #first: DesignSource | undefined
  constructor(token: string) {
    this.#token = token
  }

  #ask(path: string, init: RequestInit = {}): Promise<Response> {
    return fetch(path, { ...init, headers: { ...init.headers, 'X-Halfbit-Token': this.#token } })
  }

  /** Whether the loopback server is there: it alone answers this call with an object. */
  async answers(): Promise<boolean> {
    let answer: Response
    let said: unknown
    try {
      answer = await this.#ask('api/design')
      said = await answer.json()
    } catch {
      return false
    }
    if (answer.status === 401) throw new NoToken()
    if (!answer.ok) throw new Error(reason(answer.status, said))
    this.#first = said as DesignSource
    return true
  }

  async open(): Promise<DesignSource> {
    const first = this.#first
    this.#first = undefined
    if (first) return first
    const answer = await this.#ask('api/design')
    if (!answer.ok) throw await refusal(answer)
    return answer.json()
  }

  async save(text: string, known: string): Promise<SaveResult> {
    const put = { method: 'PUT', headers: { 'If-Match': known }, body: text }
    const answer = await this.#ask('api/design', put).catch(() => {
      throw new Error('`halfbit open` has ended; your text exists only on this page')
    })
    if (answer.status === 409) return { saved: false, theirs: await answer.json() }
    if (!answer.ok) throw await refusal(answer)
    return { saved: true, revision: (await answer.json()).revision }
  }

  async files(): Promise<NamedFile[]> {
    return (await (await this.#ask('api/files')).json()).files
  }

  async read(path: string): Promise<Uint8Array> {
    const answer = await this.#ask(`api/file?path=${encodeURIComponent(path)}`)
    if (!answer.ok) throw new Error(`${path}: ${(await answer.json()).error}`)
    return new Uint8Array(await answer.arrayBuffer())
  }

  watch(changed: (revision: string) => void): () => void {
    const stop = new AbortController()
    const listen = async () => {
      while (!stop.signal.aborted) {
        try {
          const answer = await this.#ask('api/changes', { signal: stop.signal })
          const reader = answer.body!.pipeThrough(new TextDecoderStream()).getReader()
          let rest = ''
          for (let part = await reader.read(); !part.done; part = await reader.read()) {
            const lines = (rest + part.value).split('\n')
            rest = lines.pop() ?? ''
            for (const line of lines) changed(JSON.parse(line).revision)
          }
        } catch {
          // The server went away; ask again, it may come back.
        }
        await new Promise((resolve) => setTimeout(resolve, 2000))
      }
    }
    void listen()
    return () => stop.abort()
  }
}

async function refusal(answer: Response): Promise<Error> {
  return new Error(
    answer.status === 401
      ? '`halfbit open` has been restarted: open the address it printed'
      : reason(answer.status, await answer.json().catch(() => undefined)),
  )
}

function reason(status: number, said: unknown): string {
  const error = (said as { error?: unknown } | undefined)?.error
  return typeof error === 'string' ? error : `the server answered ${status}`
}

const KEPT = 'halfbit-design'
const KEPT_EXAMPLE = 'halfbit-example'
const FIRST_EXAMPLE = 'exhibition'

/** No server: examples come with the page, work stays in this browser's storage. */
class BrowserHost implements FileHost {
  readonly kind = 'browser'

  async open(): Promise<DesignSource> {
    const kept = localStorage.getItem(KEPT)
    const text = kept ?? (await this.openExample(FIRST_EXAMPLE))
    return { name: 'halfbit.yaml', text, revision: await revisionOf(text) }
  }

  async save(text: string, known: string): Promise<SaveResult> {
    const kept = localStorage.getItem(KEPT)
    if (kept !== null && (await revisionOf(kept)) !== known) {
      return { saved: false, theirs: { name: 'halfbit.yaml', text: kept, revision: await revisionOf(kept) } }
    }
    localStorage.setItem(KEPT, text)
    return { saved: true, revision: await revisionOf(text) }
  }

  async examples(): Promise<Example[]> {
    const answer = await fetch('examples/list.json')
    return answer.ok ? answer.json() : []
  }

  async openExample(name: string): Promise<string> {
    const answer = await fetch(`examples/${name}/halfbit.yaml`)
    if (!answer.ok) throw new Error(`the example ${name} could not be loaded`)
    localStorage.setItem(KEPT_EXAMPLE, name)
    return answer.text()
  }

  /** The example whose files the design means. */
  get #example(): string {
    return localStorage.getItem(KEPT_EXAMPLE) ?? FIRST_EXAMPLE
  }

  async files(): Promise<NamedFile[]> {
    return (await this.examples()).find((e) => e.name === this.#example)?.files ?? []
  }

  async read(path: string): Promise<Uint8Array> {
    const answer = await fetch(`examples/${this.#example}/${path}`)
    if (!answer.ok) throw new Error(`${path}: no such file`)
    return new Uint8Array(await answer.arrayBuffer())
  }

  watch(changed: (revision: string) => void): () => void {
    const listen = async (event: StorageEvent) => {
      if (event.key === KEPT && event.newValue !== null) changed(await revisionOf(event.newValue))
    }
    addEventListener('storage', listen)
    return () => removeEventListener('storage', listen)
  }
}

async function revisionOf(text: string): Promise<string> {
  return (await sha256Of(text)).slice(0, 32)
}
