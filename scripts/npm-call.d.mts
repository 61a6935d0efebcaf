import type { PlatformPath } from 'node:path'

export function npmCall(system: {
  execPath: string
  env: Record<string, string | undefined>
  rules: PlatformPath
  isThere(file: string): boolean
}): { program: string; before: string[] }
