/** Filled in by the build. */
declare const HALFBIT_VERSION: string

export const VERSION = HALFBIT_VERSION
