/** A station that differs from the nominal one of the design, within its tolerances. */
import type { BenchSetup } from '../station/setup.js'
import type { ScenarioDesign } from './design.js'

export function withDrawn(setup: BenchSetup, { drawn, seed }: ScenarioDesign): BenchSetup {
  const { supply = 0, sense = 0, clock = 0 } = drawn ?? {}
  return {
    ...setup,
    seed,
    clockHz: setup.clockHz * (1 + clock),
    supplies: setup.supplies.map((s) => ({ ...s, volt: s.volt * (1 + supply) })),
    districts: setup.districts.map((d) => ({
      ...d,
      ...(d.sense ? { sense: { ...d.sense, voltPerAmp: d.sense.voltPerAmp * (1 + sense) } } : {}),
    })),
  }
}
