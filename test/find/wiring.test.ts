/** Faults as changes of a factored network against the same network built anew with the fault in it. */
import { readFileSync } from 'node:fs'
import { expect, it } from 'vitest'
import { loadDesign } from '../../src/design/index.js'
import { Wiring } from '../../src/find/model/wiring.js'
import { railroadOf } from '../../src/proof/index.js'
import { planWithFault } from '../../src/track/index.js'

const file = new URL('../../examples/shelf/halfbit.yaml', import.meta.url).pathname
const { input, model } = railroadOf(loadDesign(readFileSync(file, 'utf8'), file))!
const sound = new Wiring(model.plan, input.sources)

it.each(['open-feeder:mill/A', 'open-feeder:front.1/B', 'swapped-feeder:back.2'])('%s', (id) => {
  const { plan } = planWithFault(model.plan, id)
  const anew = new Wiring(plan, input.sources)
  const [, kind, name, wire] = /^(\w+)-feeder:([^/]+)(?:\/(\w))?$/.exec(id)!
  const feeder = model.plan.feeders.findIndex((f) => f.name === name)
  const changed = sound.with(
    kind === 'open'
      ? [{ what: 'open feeder', feeder, wire: wire as 'A' | 'B' }]
      : [{ what: 'swapped feeder', feeder }],
  )
  const other = anew.with([])
  for (let t = 0; t < plan.tracks.length; t++) {
    expect(changed.track(t).volt.high).toBeCloseTo(other.track(t).volt.high, 3)
    if (!other.track(t).cutOff) expect(changed.track(t).ohm.low).toBeCloseTo(other.track(t).ohm.low, 3)
  }
  for (const { edge } of sound.joints) {
    const track = model.plan.joints[sound.joints[0]!.joint]!.a >> 1
    expect(changed.along(edge, track, 15).volt.high).toBeCloseTo(other.along(edge, track, 15).volt.high, 3)
  }
})
