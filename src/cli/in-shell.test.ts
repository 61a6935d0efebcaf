import { execFileSync } from 'node:child_process'
import { expect, it } from 'vitest'
import { inShell } from './in-shell.js'

it.each(['firmware', 'my station/fw', "it's", 'a"b$HOME`ls`', '-x y', '~'])(
  'a shell takes %s as one word',
  (word) => {
    expect(execFileSync('sh', ['-c', `printf %s ${inShell(word)}`], { encoding: 'utf8' })).toBe(word)
  },
)
