/** What decides whether the current is read as it flows: where ground and taps meet the shunt, and which leads are short. */

import { type DistrictStage, driverPart } from '../../power/index.js'
import type { Connection, Wiring } from '../wiring/connections.js'
import { isInReturn, returnsOf } from '../wiring/sense-wiring.js'
import { plain, type Said } from './figure.js'
import type { BookSources } from './sources.js'

export function sensingNotes(s: BookSources, wiring: Wiring): Said[] {
  const { connections } = wiring
  const shunts = s.stages.filter((d) => d.district.sense?.kind === 'shunt')
  return [
    ...s.stages.filter(isInReturn).flatMap((d) => returnNotes(d, connections)),
    ...Object.keys(s.loaded.design.power?.supplies ?? {}).flatMap((supply) =>
      chained(s, supply, connections),
    ),
    ...(shunts.length === 0
      ? []
      : [
          'A sense tap is a wire of its own, soldered to the lead of the shunt right at its body, or to the sense terminal of a shunt that has four. It carries no track current and is never taken further along the lead.',
        ]),
    ...shortLeads(wiring),
  ].map(plain)
}

const wiresOf = (list: readonly Connection[]) => list.map((c) => c.id).join(', ')

/** The two wires that make a shunt in the minus read wrongly or not at all. */
function returnNotes(
  { name, driverName, model }: DistrictStage,
  connections: readonly Connection[],
): string[] {
  const shunt = `sense ${name}`
  const back = wiresOf(connections.filter((c) => c.from === shunt && c.to === `driver ${driverName}`))
  const ground = connections.filter((c) => c.to === shunt && c.roles.includes('ground'))
  const bridged =
    'Join none of them with GND of the controller, and use no board that does so by its contacts: that bridges the shunt, the firmware reads next to nothing, and a short does not trip. An ohmmeter does not show it, the trip with a resistor does.'
  const onlyGround = driverPart(model.name)?.power?.minus.startsWith('GND')
  return [
    onlyGround
      ? `The − of driver ${driverName} is the driver side of the shunt of ${name} (${back}). Every GND terminal of the ${model.name} or its board, also the one beside its inputs, belongs there. ${bridged}`
      : `The − of driver ${driverName} is the driver side of the shunt of ${name} (${back}). Where its bridge has a return terminal of its own (sense or emitter in its data sheet), that is this −, and its GND goes to the supply side of the shunt. Where it has GND terminals only, all of them go to the driver side, also the one beside its inputs. ${bridged}`,
    ...(ground.length === 0
      ? []
      : [
          `GND of the controller meets the supply side of the shunt of ${name} (${wiresOf(ground)}), not the supply itself: the voltage along the lead between them would be read as current.`,
        ]),
  ]
}

function chained(s: BookSources, supply: string, connections: readonly Connection[]): string[] {
  const shunts = returnsOf(s, supply).map((d) => `sense ${d.name}`)
  const links = connections.filter((c) => shunts.includes(c.from) && shunts.includes(c.to))
  if (links.length === 0) return []
  return [
    `The shunts of supply ${supply} meet at their supply sides (${wiresOf(links)}). Mount them side by side and make these wires as short and thick as you can: what they drop is read as current.`,
  ]
}

const CLOSE: Readonly<Record<string, string>> = {
  terminator: 'a terminator straight across the end of its bus',
  capacitor: 'a filter capacitor at the converter pin and the GND beside it, with its series resistor',
}

/** Parts that do nothing at the end of a long lead. */
function shortLeads({ parts, connections }: Wiring): string[] {
  const kinds = Object.keys(CLOSE).filter((kind) => parts.some((p) => p.kind === kind))
  if (kinds.length === 0) return []
  const wires = connections.filter((c) =>
    parts.some((p) => p.id === c.to && (kinds.includes(p.kind) || p.id.startsWith('resistor series'))),
  )
  return [
    `Keep these wires to a few centimetres, whatever their length in the list: ${wiresOf(wires)}. Put ${kinds.map((kind) => CLOSE[kind]).join(', and ')}.`,
  ]
}
