/** The importer for a file, found from its first bytes. */
import { InputError } from '../units/index.js'
import { CsvImporter } from './csv.js'
import type { CaptureFormat } from './formats.data.js'
import {
  type CaptureOptions,
  type CaptureSink,
  type CaptureSummary,
  type Importer,
  LINE_LIMIT,
} from './importer.js'
import type { MadeBy } from './provenance.js'
import { RawImporter } from './raw.js'
import { VcdImporter } from './vcd.js'

/** Decides once the first bytes that are no blanks are there, then hands everything on. */
export class CaptureImporter implements Importer {
  readonly #options: CaptureOptions
  readonly #sink: CaptureSink
  #inner: Importer | undefined
  #blanks: number[] = []

  /** @throws InputError when a raw dump lacks its rate or bits. */
  constructor(options: CaptureOptions, sink: CaptureSink) {
    this.#options = options
    this.#sink = sink
    if (options.format) this.#inner = importerFor(options.format, options, sink)
  }

  get done(): boolean {
    return this.#inner?.done ?? false
  }

  get reachedUs(): number {
    return this.#inner?.reachedUs ?? Number.NEGATIVE_INFINITY
  }

  get available(): readonly string[] {
    return this.#inner?.available ?? []
  }

  get isAnalog(): boolean {
    return this.#inner?.isAnalog ?? false
  }

  get madeBy(): MadeBy | undefined {
    return this.#inner?.madeBy
  }

  push(bytes: Uint8Array): void {
    if (bytes.length === 0) return
    // Always the plain class, so that the hot loops see one kind of array (a Node buffer is another).
    const chunk = new Uint8Array(bytes.buffer, bytes.byteOffset, bytes.length)
    if (this.#inner) {
      this.#inner.push(chunk)
      return
    }
    if (this.#blanks.length > LINE_LIMIT) throw new InputError('nothing but blanks; expected a capture')
    const at = chunk.findIndex((c, i) => !isBlank(c, i + this.#blanks.length))
    if (at < 0) {
      for (const c of chunk) this.#blanks.push(c)
      return
    }
    this.#inner = importerFor(formatOf(chunk.subarray(at)), this.#options, this.#sink)
    if (this.#blanks.length > 0) this.#inner.push(Uint8Array.from(this.#blanks))
    this.#inner.push(chunk)
  }

  end(): CaptureSummary {
    if (!this.#inner) throw new InputError('the file is empty; expected a capture', { line: 1, column: 1 })
    return this.#inner.end()
  }
}

/** A blank or a byte order mark of UTF-8. */
function isBlank(c: number, at: number): boolean {
  return c === 32 || (c >= 9 && c <= 13) || (at < 3 && (c === 0xef || c === 0xbb || c === 0xbf))
}

const IMPORTERS: Record<CaptureFormat, new (options: CaptureOptions, sink: CaptureSink) => Importer> = {
  vcd: VcdImporter,
  csv: CsvImporter,
  raw: RawImporter,
}

function importerFor(format: CaptureFormat, options: CaptureOptions, sink: CaptureSink): Importer {
  return new IMPORTERS[format](options, sink)
}

/** VCD begins with a $ command; anything else that is text is taken as CSV. */
export function formatOf(chunk: Uint8Array): CaptureFormat {
  if (chunk[0] === 36) return 'vcd'
  if ((chunk[0] === 0xff && chunk[1] === 0xfe) || (chunk[0] === 0xfe && chunk[1] === 0xff)) {
    throw new InputError('text in UTF-16; save or export it as UTF-8', { line: 1, column: 1 })
  }
  const binary = chunk.subarray(0, 4096).findIndex((c) => c < 9 || (c > 13 && c < 32))
  if (binary >= 0) {
    throw new InputError('binary data; expected VCD or CSV, or say --format raw with --rate and --bits', {
      byte: binary,
    })
  }
  return 'csv'
}
