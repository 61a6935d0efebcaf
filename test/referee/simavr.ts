/** Compiles and runs the referee program on libsimavr. */
import { spawnSync } from 'node:child_process'
import { existsSync, readFileSync } from 'node:fs'
import { join } from 'node:path'

export const HAVE_SIMAVR =
  existsSync('/usr/include/simavr/sim_avr.h') &&
  existsSync('/usr/include/libelf.h') &&
  existsSync('/usr/bin/gcc')
if (!HAVE_SIMAVR) {
  console.error(
    'SKIPPED, referee not installed: libsimavr (apt-get install simavr libsimavr-dev libelf-dev gcc libc6-dev)',
  )
}

/** @returns path of the program. */
export function buildReferee(folder: string): string {
  const program = join(folder, 'simavr-edges')
  const source = new URL('simavr-edges.c', import.meta.url).pathname
  const done = spawnSync('gcc', ['-O2', '-o', program, source, '-lsimavr', '-lelf', '-lm'], {
    encoding: 'utf8',
  })
  if (done.status !== 0) throw new Error(`gcc: ${done.stderr}`)
  return program
}

export interface RefereeRun {
  elf: string
  mcu: string
  hz: number
  /** `PB1`. */
  pin: string
  us: number
  serial?: { port: number; perSecond: number }
}

/** Run an ELF file and give the cycles at which the pin changed; it begins low. */
export function refereeEdges(
  program: string,
  folder: string,
  run: RefereeRun,
): { cycle: number; level: number }[] {
  const vcd = join(folder, `${Math.random().toString(36).slice(2)}.vcd`)
  const serial = run.serial ? ['--serial', String(run.serial.port), String(run.serial.perSecond)] : []
  const { elf, mcu, hz, pin, us } = run
  const done = spawnSync(
    program,
    [elf, mcu, String(hz), pin[1]!, pin[2]!, String(us), '--vcd', vcd, ...serial],
    { encoding: 'utf8' },
  )
  if (done.status !== 0) throw new Error(`simavr-edges: ${done.stdout} ${done.stderr}`)
  const edges: { cycle: number; level: number }[] = []
  let cycle = 0
  for (const line of readFileSync(vcd, 'utf8').split('\n')) {
    if (line[0] === '#') cycle = Math.round((Number(line.slice(1)) * hz) / 1e12)
    else if (line === '0!' || line === '1!') edges.push({ cycle, level: Number(line[0]) })
  }
  return edges
}
