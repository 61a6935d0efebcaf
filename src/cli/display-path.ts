import { isAbsolute, relative } from 'node:path'

/** A path as a report shows it: from the folder the command runs in, if it lies in there. */
export function displayPath(path: string): string {
  const near = relative(process.cwd(), path)
  const inside = near !== '' && !near.startsWith('..') && !isAbsolute(near)
  return (inside ? near : path).replaceAll('\\', '/')
}
