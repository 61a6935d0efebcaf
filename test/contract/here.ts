/** Runs the command line in this process, from its sources: for all tests of which the process itself is not the subject. */
import { vi } from 'vitest'
import { runCommand } from '../../src/cli/run.js'

export interface RanHere {
  status: number
  stdout: string
  stderr: string
}

/** @throws what would be an internal fault. */
export async function halfbitHere(args: readonly string[]): Promise<RanHere> {
  const [name = '', ...rest] = args
  const written = { stdout: '', stderr: '' }
  const streams = (['stdout', 'stderr'] as const).map((stream) =>
    vi.spyOn(process[stream], 'write').mockImplementation((part: string | Uint8Array) => {
      written[stream] += typeof part === 'string' ? part : Buffer.from(part).toString()
      return true
    }),
  )
  try {
    return { status: await runCommand(name, rest), ...written }
  } finally {
    for (const stream of streams) stream.mockRestore()
  }
}
