/** The importer for a file, found from its first bytes. */
import { InputError } from '../units/index.js'
import { CsvImporter } from './csv.js'
import type { CaptureFormat, CaptureOptions, CaptureSink, CaptureSummary, Importer } from './importer.js'
import { RawImporter } from './raw.js'
import { VcdImporter } from './vcd.js'

/** Decides on the first bytes pushed, then hands everything on. */
export class CaptureImporter implements Importer {
  readonly #options: CaptureOptions
  readonly #sink: CaptureSink
  #inner: Importer | undefined

  /** @throws InputError when a raw dump lacks its rate or bits. */
  constructor(options: CaptureOptions, sink: CaptureSink) {
    this.#options = options
    this.#sink = sink
    if (options.format) this.#inner = importerFor(options.format, options, sink)
  }

  get done(): boolean {
    return this.#inner?.done ?? false
  }

  push(chunk: Uint8Array): void {
    if (chunk.length === 0) return
    this.#inner ??= importerFor(formatOf(chunk), this.#options, this.#sink)
    this.#inner.push(chunk)
  }

  end(): CaptureSummary {
    if (!this.#inner) throw new InputError('the file is empty; expected a capture', { line: 1, column: 1 })
    return this.#inner.end()
  }
}

function importerFor(format: CaptureFormat, options: CaptureOptions, sink: CaptureSink): Importer {
  if (format === 'vcd') return new VcdImporter(options, sink)
  return format === 'csv' ? new CsvImporter(options, sink) : new RawImporter(options, sink)
}

/** VCD begins with a $ command; anything else that is text is taken as CSV. */
function formatOf(chunk: Uint8Array): CaptureFormat {
  const first = chunk.find((c) => c > 32 && c !== 0xef && c !== 0xbb && c !== 0xbf)
  if (first === 36) return 'vcd'
  const head = chunk.subarray(0, 4096)
  const binary = head.filter((c) => c < 9 || (c > 13 && c < 32)).length
  if (binary > 0) {
    throw new InputError('binary data; expected VCD or CSV, or say --format raw with --rate and --bits', {
      byte: head.findIndex((c) => c < 9 || (c > 13 && c < 32)),
    })
  }
  return 'csv'
}
