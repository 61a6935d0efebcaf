import { expect, it } from 'vitest'
import { harmless, takesColour } from './terminal.js'

it('shows what would steer a terminal, and leaves every other letter', () => {
  const plain = 'Süd 北 עברית 🚂 e\u0301 "x"\tnext\n'
  expect(harmless(plain)).toBe(plain)
  expect(harmless('a\u001b]0;title\u0007b\rc\u009b2Jd')).toBe('a\\u001b]0;title\\u0007b\\u000dc\\u009b2Jd')
  expect(harmless('main\u202eniam\u2066x\u200f')).toBe('main\\u202eniam\\u2066x\\u200f')
})

it('keeps the colours of reports and no others', () => {
  expect(harmless('\u001b[32mmet   \u001b[0m of \u001b[2J\u001b[31m', true)).toBe(
    '\u001b[32mmet   \u001b[0m of \\u001b[2J\\u001b[31m',
  )
  expect(harmless('\u001b[32mmet\u001b[0m')).toBe('\\u001b[32mmet\\u001b[0m')
})

it('leaves the data of JSON as it is', () => {
  const names = ['main\u202e', '\u0090', 'x\u001b[0m']
  expect(JSON.parse(harmless(JSON.stringify(names)))).toEqual(names)
})

it('colours a terminal that can, and nothing where NO_COLOR asks for none', () => {
  expect(takesColour(true, { TERM: 'xterm-256color' })).toBe(true)
  // On Windows there is no TERM.
  expect(takesColour(true, {})).toBe(true)
  expect(takesColour(true, { NO_COLOR: '' })).toBe(true)
  expect(takesColour(true, { NO_COLOR: '1' })).toBe(false)
  expect(takesColour(true, { TERM: 'dumb' })).toBe(false)
  expect(takesColour(false, { TERM: 'xterm-256color' })).toBe(false)
})
