/** Each sequence is judged back by the counter of S-9.2.3:2012 E, which was written apart from the maker. */
import { describe, expect, it } from 'vitest'
import {
  type CvAccess,
  factoryResetSequence,
  packetDurationUs,
  SERVICE_MODES,
  type ServiceMode,
  type ServiceStep,
  serviceOperations,
  serviceSequence,
} from './index.js'

const judged = (steps: readonly ServiceStep[], modes: ServiceMode[], fromPowerOn: boolean) => {
  let at = 0
  const packets = [...steps, { times: 1, bytes: Uint8Array.of(0xff, 0, 0xff), says: '' }].flatMap(
    ({ times, bytes }) =>
      Array.from({ length: times }, () => {
        const timeUs = at
        at += packetDurationUs(bytes, 20)
        return { bytes, timeUs, endUs: at }
      }),
  )
  return serviceOperations(packets, { modes, fromPowerOn })
}

describe('a service-mode sequence', () => {
  const cases: [ServiceMode, CvAccess][] = SERVICE_MODES.flatMap((mode) =>
    (mode === 'address-only' ? [1] : mode === 'register' ? [1, 3, 29, 7] : [1, 29, 65, 1024]).flatMap(
      (cv) => [
        [mode, { op: 'write', cv, value: 3 }] as [ServiceMode, CvAccess],
        [mode, { op: 'verify', cv, value: 3 }] as [ServiceMode, CvAccess],
      ],
    ),
  )
  it.each([
    ...cases,
    ['direct', { op: 'write-bit', cv: 29, bit: 5, value: 1 }] as [ServiceMode, CvAccess],
    ['direct', { op: 'verify-bit', cv: 8, bit: 7, value: 1 }] as [ServiceMode, CvAccess],
  ])('in %s mode of %j is judged right', (mode, access) => {
    for (const fromPowerOn of [false, true]) {
      const list = judged(serviceSequence({ mode, access, fromPowerOn }), [mode], fromPowerOn)
      expect(list.length).toBeGreaterThan(0)
      for (const o of list)
        expect([o.says, o.verdict, o.faults.map((f) => f.says)]).toEqual([o.says, 'met', []])
    }
  })

  it('resets a decoder to its factory values', () => {
    const steps = factoryResetSequence(true)
    // S-9.2.3:2012 E prints 7F 08 77.
    expect(steps.some(({ bytes }) => [...bytes].join() === [0x7f, 0x08, 0x77].join())).toBe(true)
    expect(judged(steps, ['register'], true).every((o) => o.verdict === 'met')).toBe(true)
  })

  it('is refused where the mode does not reach', () => {
    const write =
      (mode: ServiceMode, cv: number, value = 3) =>
      () =>
        serviceSequence({ mode, access: { op: 'write', cv, value } })
    expect(write('address-only', 2)).toThrow(/reaches CV1/)
    expect(write('address-only', 1, 128)).toThrow(/address to 127/)
    expect(write('register', 17)).toThrow(/CV1 to CV4, CV7, CV8 and CV29/)
    expect(() =>
      serviceSequence({ mode: 'paged', access: { op: 'write-bit', cv: 29, bit: 1, value: 1 } }),
    ).toThrow(/direct mode/)
  })
})
