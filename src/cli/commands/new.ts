import { cpSync, existsSync, mkdirSync, mkdtempSync, readdirSync, renameSync, rmSync } from 'node:fs'
import { basename, dirname, join, resolve } from 'node:path'
import { fileURLToPath } from 'node:url'
import { InputError, nearest } from '../../units/index.js'
import type { Command } from '../command.js'

const EXAMPLES = fileURLToPath(new URL('../../../examples/', import.meta.url))

/** `halfbit new [DIR]`: a folder with a commented design file to start from. */
export const command: Command = {
  usage: ['new [DIR] [--example NAME]'],
  about: `Writes a folder with a commented design file and firmware to start from.
Examples: ${exampleNames().join(', ')}. All of them are invented.`,
  options: { example: { type: 'string', value: 'NAME', help: 'which example to start from (exhibition)' } },
  takes: { min: 0, max: 1, what: 'at most one folder' },
  examples: ['halfbit new my-station', 'halfbit new workshop --example two-tracks'],
  async run(args, io) {
    const name = args.text('example') ?? 'exhibition'
    const names = exampleNames()
    if (!names.includes(name)) {
      const close = nearest(name, names)
      throw new InputError(
        `no example "${name}"${close ? `; the nearest is "${close}"` : ''}; expected one of ${names.join(', ')}`,
      )
    }
    const folder = resolve(args.positionals[0] ?? 'my-station')
    if (existsSync(folder) && readdirSync(folder).length > 0) {
      throw new InputError(`${folder} is there and not empty; expected a new or an empty folder`)
    }
    mkdirSync(dirname(folder), { recursive: true })
    // Copied beside its place and then renamed: the folder is there whole or not at all.
    const draft = mkdtempSync(join(dirname(folder), `.${basename(folder)}-`))
    try {
      cpSync(join(EXAMPLES, name), join(draft, 'copy'), { recursive: true })
      if (existsSync(folder)) rmSync(folder, { recursive: true })
      renameSync(join(draft, 'copy'), folder)
    } finally {
      rmSync(draft, { recursive: true, force: true })
    }
    const design = join(args.positionals[0] ?? 'my-station', 'halfbit.yaml')
    if (args.on('json')) io.out(JSON.stringify({ halfbit: 1, folder, design, example: name }, null, 2))
    else io.out(`Wrote ${folder}.\nNext: halfbit check ${design}, then halfbit prove ${design}.`)
    return 0
  },
}

function exampleNames(): string[] {
  if (!existsSync(EXAMPLES)) return []
  const entries = readdirSync(EXAMPLES, { withFileTypes: true })
  return entries
    .filter((e) => e.isDirectory() && existsSync(join(EXAMPLES, e.name, 'halfbit.yaml')))
    .map((e) => e.name)
}
