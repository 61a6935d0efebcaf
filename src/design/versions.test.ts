import { expect, it } from 'vitest'
import { setInDesign } from './edit.js'
import { checkDesign, loadDesign } from './load.js'
import { upgradeDesign } from './versions.js'

const FIRST = `# Ours since 1998
halfbit: 1 # version
name: Test station (invented)
controller:
  chip: atmega328p
  clock: { frequency: 16 MHz }
signal: # what it sends
  tracks: # two of them
    track: { pin: PB1 } # a name of our own
    "service": { mode: service, pin: PB2 }
captures:
  - file: a.vcd
    track: track # the main line
  - { file: b.vcd, "track" : service }
track:
  bus: { tracks: { wire: 14 AWG, length: 3 m } }
  sections: { yard: { length: 1 m, feeders: { bus: tracks, wire: 18 AWG, length: 30 cm } } }
fleet: { goods: { address: 3 } }
traffic: { track: track }
`

const SECOND = FIRST.replace('halfbit: 1', 'halfbit: 2')
  .replace('  tracks: # two', '  outputs: # two')
  .replace('    track: track', '    output: track')
  .replace('"track" : service', 'output : service')
  .replace('{ track: track }', '{ output: track }')

it('of version 1 is rewritten where its keys were renamed, and nowhere else', () => {
  expect(upgradeDesign(FIRST)).toBe(SECOND)
  expect(upgradeDesign(SECOND)).toBe(SECOND)
  for (const [text, upgraded] of [
    [`\ufeff${FIRST}`, `\ufeff${SECOND}`],
    [FIRST.replaceAll('\n', '\r\n'), SECOND.replaceAll('\n', '\r\n')],
    [
      'captures: [&a {file: x, track: y}, *a]\nhalfbit: 1.0',
      'captures: [&a {file: x, output: y}, *a]\nhalfbit: 2',
    ],
  ])
    expect(upgradeDesign(text!)).toBe(upgraded)
})

it('of version 1 is read as the same design', () => {
  const railroad = /^track:[\s\S]*?(?=^fleet:)/m
  const before = loadDesign(FIRST.replace(railroad, ''))
  const after = loadDesign(SECOND.replace(railroad, ''))
  expect(before.design).toEqual(after.design)
  expect([before.version, after.version]).toEqual([1, 2])
  expect(before.placeOf(['signal', 'outputs'])).toEqual({ line: 8, column: 3 })
})

it('of version 1 names its problems with their lines', () => {
  const bad = FIRST.replace('track: track # the', 'track: trac # the')
  expect(checkDesign(bad)[0]).toMatchObject({
    line: 13,
    message: expect.stringContaining('nearest is "track"'),
  })
  const both = FIRST.replace('captures:', 'captures:\n  - { file: c.vcd, track: track, output: track }')
  expect(checkDesign(both)[0]?.message).toMatch(/no key "track"/)
})

it('of version 2 takes no old key, and says what it is called now', () => {
  const [problem] = checkDesign(FIRST.replace('halfbit: 1', 'halfbit: 2'))
  expect(problem).toMatchObject({ line: 8 })
  expect(checkDesign(FIRST.replace('halfbit: 1', 'halfbit: 2')).map((p) => p.message)).toContainEqual(
    expect.stringMatching(/^signal has no key "tracks"; it is called "outputs" now/),
  )
})

it('of a version that is not read is refused', () => {
  for (const version of ['0', '1.5', '3', '-1'])
    expect(checkDesign(FIRST.replace('halfbit: 1', `halfbit: ${version}`))[0]?.message).toBe(
      `this is version ${version} of the design file; this program reads versions 1 to 2`,
    )
})

it('of version 1 becomes version 2 with the first edit', () => {
  expect(setInDesign(FIRST, ['signal', 'outputs', 'track', 'pin'], 'PB3')).toBe(SECOND.replace('PB1', 'PB3'))
})

it('of version 2 with a name of before is refused with the present one, and an upgrade renames it', () => {
  const now = SECOND.replace(
    '{ output: track }',
    '{ output: track, capacity: 12, memoryEach: 20 bytes } # slots',
  )
  const before = now.replace('capacity:', 'slots:').replace('memoryEach', 'slotMemory')
  expect(checkDesign(before).map((p) => p.message)).toEqual(
    expect.arrayContaining([
      expect.stringMatching(/^traffic has no key "slots"; it is called "capacity" now/),
      expect.stringMatching(/^traffic has no key "slotMemory"; it is called "memoryEach" now/),
    ]),
  )
  expect(upgradeDesign(before)).toBe(now)
  expect(upgradeDesign(now)).toBe(now)
  expect(upgradeDesign(before.replace('halfbit: 2', 'halfbit: 1'))).toBe(now)
})
