/** `halfbit starter`: a complete, small firmware for the design, written anew without touching what the builder added. */

import { existsSync } from 'node:fs'
import { dirname, join, relative, resolve, sep } from 'node:path'
import { starter } from '../../book/index.js'
import { type Arguments, type Command, type ExitStatus, type Io, VARIANT_OPTION } from '../command.js'
import { makeFolder, OutputFile, readUpTo } from '../files/index.js'
import { inShell } from '../in-shell.js'
import { namedByVariant, readDesign } from '../read-design.js'

/** A source file of the starter is a few kilobytes. */
const LARGEST_BYTES = 1 << 20

export const command: Command = {
  usage: ['starter DESIGN DIR [--discard-changes] [--json]'],
  about: `Writes a complete, small C program for the design's chip, timers, pins, outputs and thresholds, with its Makefile and README:
signal, refresh, emergency stop, current trip, service mode, and a serial line in plain words. Run again, it keeps what is
between "your own" and "end of your own" in its files, and refuses if anything would be lost. Either all files are written or
none. What the firmware does not protect is listed here and in the README; a design for which no safe firmware can be made is refused.`,
  options: {
    variant: VARIANT_OPTION,
    'discard-changes': {
      type: 'boolean',
      help: 'discard changes outside the places for your own code',
    },
  },
  takes: { min: 2, max: 2, what: 'a design file and a folder' },
  examples: ['halfbit starter halfbit.yaml firmware', 'make -C firmware'],
  run,
}

async function run(args: Arguments, io: Io): Promise<ExitStatus> {
  const [file, folder] = args.positionals as [string, string]
  const loaded = namedByVariant(readDesign(file, io, args.text('variant')))
  const pathOf = (name: string) => join(folder, name)
  const prefix = `${seenFrom(file, folder)}/`
  const { files, commands, complete, findings, yaml } = starter({
    loaded,
    file,
    pathOf,
    prefix,
    existing: (name) =>
      existsSync(pathOf(name))
        ? Buffer.from(readUpTo(pathOf(name), LARGEST_BYTES, 'a source file')).toString()
        : undefined,
    discard: args.on('discard-changes'),
  })
  makeFolder(folder)
  writeAll([...files].map(([name, text]) => [pathOf(name), text]))
  if (args.on('json')) {
    io.out(
      JSON.stringify(
        { halfbit: 1, folder, files: [...files.keys()].sort(), complete, commands, findings },
        null,
        2,
      ),
    )
    return 0
  }
  io.out(`${files.size} files written to ${folder}; next: make -C ${inShell(folder)}`)
  for (const f of findings) io.out(`Note: ${f.sentence}.`)
  if (complete)
    io.out(
      `For the design file, so that proof and bench can run it (also in firmware.yaml):\n\n${yaml(prefix).trimEnd()}`,
    )
  return 0
}

/** The folder as the design file would name it. */
function seenFrom(file: string, folder: string): string {
  return relative(dirname(resolve(file)), resolve(folder)).replaceAll(sep, '/') || '.'
}

/** Nothing appears under its name before everything could be written. */
function writeAll(list: readonly (readonly [string, string])[]): void {
  const opened: OutputFile[] = []
  try {
    for (const [path, text] of list) {
      const out = new OutputFile(path)
      opened.push(out)
      out.write(text)
    }
  } catch (error) {
    for (const out of opened) out.discard()
    throw error
  }
  for (const out of opened) out.commit()
}
