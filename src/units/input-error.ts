/** Where in an input something is wrong; lines and columns count from 1. */
export interface InputPlace {
  file?: string | undefined
  line?: number | undefined
  column?: number | undefined
  /** Offset in a binary file, bytes. */
  byte?: number | undefined
}

/**
 * The input is unusable. The message says in one line what was found and what was expected; commands print it
 * with the place in front and end with status 2.
 */
export class InputError extends Error {
  override name = 'InputError'
  place: InputPlace

  constructor(message: string, place: InputPlace = {}, options?: ErrorOptions) {
    super(message, options)
    this.place = place
  }

  /** `file:line:column: message`, with what is known of the place. */
  describe(): string {
    const { file, line, column, byte } = this.place
    const at = [file, line, line === undefined ? undefined : column].filter((p) => p !== undefined).join(':')
    const offset = byte === undefined ? '' : ` (at byte ${byte})`
    return `${at ? `${at}: ` : ''}${this.message}${offset}`
  }
}
