// Takes the pictures of the README anew, from the real program in the real browser: npm run pictures
// Into another folder, such as one that a CI system keeps: npm run pictures -- --out FOLDER
import { copyFileSync, mkdirSync, mkdtempSync, rmSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join, resolve } from 'node:path'
import { fileURLToPath } from 'node:url'
import { takeScreenshots } from './screenshots.mjs'

const at = process.argv.indexOf('--out')
if (at >= 0 && process.argv[at + 1] === undefined) throw new Error('--out needs a folder')
const out =
  at < 0 ? fileURLToPath(new URL('../docs/pictures/', import.meta.url)) : resolve(process.argv[at + 1])
const folder = mkdtempSync(join(tmpdir(), 'halfbit-pictures-'))
const shots = ['track', 'proof'].flatMap((stage) =>
  ['light', 'dark'].map((scheme) => ({ example: 'exhibition', stage, size: [1280, 720], scheme })),
)
mkdirSync(out, { recursive: true })
try {
  for (const path of await takeScreenshots(shots, folder)) {
    const [, stage, , scheme] = path
      .slice(folder.length + 1)
      .replace(/\.png$/, '')
      .split('-')
    copyFileSync(path, join(out, `${stage}-${scheme}.png`))
  }
} finally {
  rmSync(folder, { recursive: true, force: true })
}
