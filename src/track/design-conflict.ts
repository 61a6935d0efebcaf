import { InputError } from '../units/index.js'

/** Something in the railroad's part of the design file cannot be; `path` leads to it, so that the loader can name the line. */
export class DesignConflict extends InputError {
  readonly path: readonly (string | number)[]
  /** The message without the place. */
  readonly reason: string

  constructor(path: readonly (string | number)[], message: string) {
    super(`${path.join('.')}: ${message}`)
    this.path = path
    this.reason = message
  }
}
