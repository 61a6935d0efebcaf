import { spawn } from 'node:child_process'
import { createHash } from 'node:crypto'
import { existsSync, realpathSync, statSync, writeFileSync } from 'node:fs'
import { fileURLToPath } from 'node:url'
import { InputError } from '../../units/index.js'
import { browserCall } from '../browser-call.js'
import type { Arguments, Command, ExitStatus, Io } from '../command.js'
import { PACKAGE_FOLDER } from '../package-folder.js'
import { DesignText, Refused } from '../serve/folder.js'
import { serveWorkbench } from '../serve/server.js'

/** The built pages lie beside the program. */
const ASSETS = fileURLToPath(new URL('dist/web', PACKAGE_FOLDER))

/** `halfbit open [DESIGN]`: the workbench in the browser. */
export const command: Command = {
  usage: ['open [DESIGN] [--port N] [--no-browser]'],
  about: `Opens the workbench for one design in the browser; in a folder without a design it asks what you have and makes one.
It is served on this machine only, and only at the printed address; files outside the design's folder are out of reach. Changes
made there are written to the design file, and changes made in another editor show up. Ctrl-C ends it, with status 0.`,
  options: {
    port: {
      type: 'string',
      value: 'N',
      help: 'port to listen on; by default the same one each time for a design, if free',
    },
    'no-browser': { type: 'boolean', help: 'print the address only' },
  },
  takes: { min: 0, max: 1, what: 'one design file (halfbit.yaml when left out)' },
  examples: ['halfbit open', 'halfbit open examples/exhibition/halfbit.yaml --no-browser'],
  endsByInterrupt: true,
  run,
}

async function run(args: Arguments, io: Io): Promise<ExitStatus> {
  const port = portOf(args)
  const design = args.positionals[0] ?? 'halfbit.yaml'
  if (args.positionals[0] === undefined && !existsSync(design)) {
    writeFileSync(design, '', { flag: 'wx' })
    io.note(`${design} was not there: an empty one was made, and the workbench asks what you have.`)
  }
  if (!statSync(design).isFile())
    throw new InputError('is a folder; expected a design file', { file: design })
  if (!existsSync(`${ASSETS}/index.html`))
    throw new InputError('the pages of the workbench are not built; run `npm run build` first')
  readable(design)
  const workbench = await serveWorkbench(design, ASSETS, port ?? usualPort(design)).catch(
    (error: NodeJS.ErrnoException) => {
      if (error.code !== 'EADDRINUSE' && error.code !== 'EACCES') throw error
      if (port === undefined) return serveWorkbench(design, ASSETS)
      throw new InputError(`--port ${port} is taken or may not be used; expected a free one`)
    },
  )
  if (args.on('json')) io.out(JSON.stringify({ halfbit: 1, url: workbench.url, port: workbench.port }))
  else io.out(`The workbench for ${design}: ${workbench.url}`)
  io.note('Ctrl-C ends it.')
  if (!args.on('no-browser')) openBrowser(workbench.url)
  await new Promise<void>((done) => {
    if (io.signal.aborted) done()
    else io.signal.addEventListener('abort', () => done(), { once: true })
  })
  await workbench.close()
  return 0
}

/** Says what is wrong with the file before anything is opened. */
function readable(design: string): void {
  try {
    new DesignText(design).read()
  } catch (error) {
    throw error instanceof Refused ? new InputError(error.message, { file: design }) : error
  }
}

/**
 * The same port for the same file each time: a browser keeps what it was told (how captures are read, that the tour
 * was seen) by port. Below the ranges that systems give to others.
 */
function usualPort(design: string): number {
  return 20_000 + (createHash('sha256').update(realpathSync(design)).digest().readUInt32BE() % 10_000)
}

function portOf(args: Arguments): number | undefined {
  const text = args.text('port')
  if (text === undefined) return undefined
  const port = Number(text)
  if (!/^\d+$/.test(text) || port < 1 || port > 65535)
    throw new InputError(`--port ${text}; expected a whole number from 1 to 65535`)
  return port
}

/** Asks the system for its browser; without one the printed address is enough. */
function openBrowser(url: string): void {
  const { program, args } = browserCall(process.platform, url)
  const child = spawn(program, args, { stdio: 'ignore', detached: true })
  child.on('error', () => {})
  child.unref()
}
