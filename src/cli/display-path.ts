import * as system from 'node:path'

/**
 * A path as a report shows it: from the folder the command runs in, if it lies in there, with `/` on every system.
 * @param rules how the system writes paths, and where the command runs.
 */
export function displayPath(path: string, rules: system.PlatformPath = system, cwd = process.cwd()): string {
  const near = rules.relative(cwd, path)
  const inside = near !== '' && !near.startsWith('..') && !rules.isAbsolute(near)
  const shown = inside ? near : path
  return rules.sep === '\\' ? shown.replaceAll('\\', '/') : shown
}
