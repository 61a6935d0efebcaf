import { readFileSync } from 'node:fs'
import { expect, it } from 'vitest'
import { driverOutput } from '../bench/index.js'
import { loadFirmware } from '../controller/index.js'
import { loadDesign } from '../design/index.js'
import { benchSetup } from './index.js'

const folder = new URL('../../examples/exhibition/', import.meta.url)
const text = readFileSync(new URL('halfbit.yaml', folder), 'utf8')
const image = loadFirmware(readFileSync(new URL('firmware/station.elf', folder)), 'station.elf')

it.each([
  ['high', 1, 'driving'],
  ['high', 0, 'open'],
  ['low', 1, 'open'],
  ['low', 0, 'driving'],
] as const)('an enable input that is active %s, at %d, leaves the driver %s', (active, level, wanted) => {
  const design = text.replaceAll('role: enable', `role: enable, active: ${active}`)
  expect(design).not.toBe(text)
  const setup = benchSetup(loadDesign(design), image, 'atmega328p')
  if ('missing' in setup) throw new Error('no power stage')
  const { driver } = setup.districts[0]!
  const isEnable = (pin: string) => [...driver.enable, ...(driver.enableLow ?? [])].includes(pin)
  expect(driverOutput(driver, (pin) => (isEnable(pin) ? level : 0)).output).toBe(wanted)
})
