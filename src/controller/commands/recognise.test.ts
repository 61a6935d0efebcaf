import * as fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { runs } from '../../../test/runs.js'
import type { CommandsDesign } from './design.js'
import {
  type CommandValues,
  commandBytes,
  commandFaults,
  recogniseAnswers,
  recogniseCommands,
  type SerialByte,
} from './recognise.js'

const base = { port: 0, end: '\\n', fullSpeed: 126, ramp: 0 }

function bytes(text: string): SerialByte[] {
  return [...text].map((c, i) => ({ value: c.charCodeAt(0), timeUs: 100 * (i + 1) }))
}
const kinds = (text: string, design: Partial<CommandsDesign>) =>
  recogniseCommands(bytes(text), { ...base, ...design }).map(({ text: _, timeUs: __, ...rest }) => rest)

describe('commands in lines', () => {
  const words: Partial<CommandsDesign> = {
    speed: ['go {address} {speed}'],
    function: ['key {address} {function} {state:on|off}'],
    stop: ['halt'],
    forget: ['forget {address}'],
  }

  it('have their fields, and the time of their last byte', () => {
    expect(recogniseCommands(bytes('go 3 60\n'), { ...base, ...words })).toEqual([
      { kind: 'speed', address: 3, speed: 60 / 126, forward: true, timeUs: 800, text: 'go 3 60' },
    ])
    expect(kinds('go 1247 -35\r\nkey 3 0 on\nkey 3 12 off\nhalt\nforget 47\n', words)).toEqual([
      { kind: 'speed', address: 1247, speed: 35 / 126, forward: false },
      { kind: 'function', address: 3, function: 0, on: true },
      { kind: 'function', address: 3, function: 12, on: false },
      { kind: 'stop' },
      { kind: 'forget', address: 47 },
    ])
  })

  it('are none when a word, a value or the end is missing', () => {
    expect(kinds('go 3\ngo 3 127\ngo 0 5\ngo 10240 5\nkey 3 0 maybe\nHALT\nhaltx\nhalt', words)).toEqual([])
  })

  it('may have more than one space, but speed 0 has no direction', () => {
    expect(kinds('go   3  0 \n', words)).toEqual([
      { kind: 'speed', address: 3, speed: 0, forward: undefined },
    ])
  })

  it('of another language, with words for the direction and hexadecimal numbers', () => {
    const other = { speed: ['L{address:hex} V{speed}{direction:v|r};'], end: ';', fullSpeed: 100 }
    expect(() => kinds('', { ...other, speed: ['L{address:hex} V{speed}{direction:v|r'] })).toThrow(/partner/)
    expect(kinds('LFF V50r;', { ...other, speed: ['L{address:hex} V{speed}{direction:v|r}'] })).toEqual([
      { kind: 'speed', address: 255, speed: 0.5, forward: false },
    ])
  })
})

it('commands as bytes follow each other without an end', () => {
  const design: Partial<CommandsDesign> = {
    end: '',
    speed: ['\\xA1{address:u16}{speed:u8}{direction:\\x01|\\x00}'],
    stop: ['\\xA0'],
  }
  expect(kinds('\xa1\x04\xd2\x3f\x01zz\xa0\xa1\x00\x03\x7e\x00', design)).toEqual([
    { kind: 'speed', address: 1234, speed: 0.5, forward: true },
    { kind: 'stop' },
    { kind: 'speed', address: 3, speed: 1, forward: false },
  ])
})

it('each mistake in a pattern has its key and says what was expected', () => {
  const faults = (design: Partial<CommandsDesign>) =>
    commandFaults({ ...base, ...design }).map((f) => `${f.path.join('.')}: ${f.message}`)
  expect(faults({})).toEqual([expect.stringMatching(/^: no pattern; expected at least one of speed, /)])
  expect(faults({ speed: ['go {adress} {speed}'] })).toEqual([
    expect.stringMatching(/^speed\.0: \{adress\}; expected one of \{address\}/),
  ])
  expect(faults({ speed: ['go {address}'] })).toEqual([
    'speed.0: no {speed} in the pattern; expected it there',
  ])
  expect(faults({ function: ['{address} {function}{state}'] })[0]).toMatch(/such as \{state:on\|off\}/)
  expect(faults({ stop: ['{any'] })[0]).toMatch(/without its partner/)
  expect(faults({ stop: ['\\q'] })[0]).toMatch(/expected \\n/)
  expect(faults({ stopOne: ['{address} {address}'] })[0]).toMatch(/twice/)
  expect(faults({ speed: ['{address}{speed}'] })[0]).toMatch(/right after another number/)
  expect(faults({ stop: [''] })[0]).toMatch(/empty/)
  expect(faults({ speed: ['{address:octal} {speed}'] })[0]).toMatch(/expected a form of decimal, hex/)
})

it('no bytes and no pattern can make it fail otherwise', () => {
  fc.assert(
    fc.property(
      fc.array(fc.integer({ min: 0, max: 255 }), { maxLength: 60 }),
      fc.string(),
      (values, text) => {
        const design = { ...base, end: '', speed: [text], stop: ['halt'] }
        const list = values.map((value, i) => ({ value, timeUs: i }))
        if (commandFaults(design).length > 0) return
        expect(recogniseCommands(list, design).length).toBeLessThanOrEqual(values.length)
      },
    ),
    { numRuns: runs(300) },
  )
})

it('what is written in a language is read back in it', () => {
  const languages: Partial<CommandsDesign>[] = [
    {
      speed: ['go {address} {speed}'],
      function: ['key {address} {function} {state:on|off}'],
      stop: ['halt'],
    },
    {
      end: '',
      speed: ['\\xA1{address:u16le}{speed:u8}{direction:\\x01|\\x00}'],
      function: ['\\xA2{address:u16}{function:u8}{state:+|-}'],
      stop: ['\\xA0'],
    },
    {
      end: ';',
      speed: ['V{address:hex} {direction:v|r}{speed}'],
      function: ['F{function} {any} {address:hex} {state:1|0}'],
      stop: ['S'],
    },
  ]
  const commands: CommandValues[] = [
    { kind: 'speed', address: 1234, speed: 0.5, forward: false },
    { kind: 'speed', address: 3, speed: 1, forward: true },
    { kind: 'function', address: 300, function: 12, on: false },
    { kind: 'stop' },
  ]
  for (const language of languages)
    for (const command of commands) {
      const design = { ...base, ...language }
      const sent = [...commandBytes(command, design)!].map((value, i) => ({ value, timeUs: i }))
      expect(recogniseCommands(sent, design)).toMatchObject([command])
    }
  expect(commandBytes({ kind: 'verify', cv: 1, value: 3 }, { ...base, stop: ['halt'] })).toBeUndefined()
})

it('answers are lines of the firmware by themselves', () => {
  const design = { ...base, stop: ['halt'], acknowledged: ['yes'], unanswered: ['silent', 'no answer'] }
  const answers = recogniseAnswers(bytes('ok\nyes\r\nyes sir\nno answer\n'), design)
  expect(answers.map((a) => a.answer)).toEqual(['acknowledged', 'unanswered'])
})
