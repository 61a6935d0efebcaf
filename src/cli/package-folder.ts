/**
 * The folder of the package. Modules of the command line run where the compiler puts them, in `dist/cli` and below, or bundled in
 * `dist/run`: this one is two folders down in both.
 */
export const PACKAGE_FOLDER = new URL('../../', import.meta.url)
