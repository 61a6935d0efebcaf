/** What feeds the controller: volts, amperes, and where its ground is joined with the supply of the track. */
import { CHIPS } from '../../controller/index.js'
import type { Wiring } from '../wiring/connections.js'
import { isGround } from '../wiring/sense-wiring.js'
import { plain, type Said, said } from './figure.js'
import type { BookSources } from './sources.js'

export function controllerSupply(s: BookSources, wiring: Wiring): Said[] {
  const { power } = s.loaded.design
  const feed = power?.controller?.from === 'track' ? fromTrack(s) : fromOwn(s)
  return [...feed, ...grounds(wiring)]
}

function fromTrack({ figures: f, loaded }: BookSources): Said[] {
  const power = loaded.design.power!
  const at = ['design', 'power', 'controller'] as const
  const supply = power.controller!.supply ?? Object.keys(power.supplies)[0]!
  return [
    said`${`The controller is fed from supply ${supply} over the regulator of the parts list, with `}${f.at('V', ...at, 'voltage')!} and up to ${f.at('A', ...at, 'current')!}. It needs no other supply.`,
    plain(
      'Look up whether the board keeps its USB input and this feed apart. If it does not, unplug one before you plug in the other.',
    ),
  ]
}

function fromOwn({ figures: f, loaded }: BookSources): Said[] {
  const { chip } = loaded.design.controller
  const volt = f.at('V', 'controller', 'supplyVolt')
  const amp = f.at('A', 'design', 'power', 'controller', 'current')
  const usual = f.at('A', 'usual', 'controllerAmp')!
  return [
    ...(volt
      ? [
          said`${`The controller has a supply of its own, or USB. The ${CHIPS[chip].name} itself gets `}${volt}, DC and regulated: at the supply pins of a bare chip, or made by the board from USB or from its input. What the input of a board takes is on its drawing.`,
        ]
      : []),
    amp
      ? said`It must give at least ${amp}, for the controller and all that it feeds.`
      : said`The design does not say how much current the controller takes. For a board with nothing else on it allow ${usual} (common practice, no source); add what it feeds, such as the logic supply of the driver boards, and measure it.`,
    plain(
      'Use a certified supply with extra-low output voltage whose output is isolated from the mains. Never feed the supply pins of the chip from the track supply without a regulator.',
    ),
  ]
}

/** Each wire that joins the minus of a supply, or of the shunt in it, with the ground of the controller. */
function grounds({ parts, connections }: Wiring): Said[] {
  const kind = new Map(parts.map((p) => [p.id, p]))
  const brain = parts.find((p) => p.kind === 'controller')!.id
  const joins = connections.filter((c) => isGround(c, brain))
  if (joins.length === 0) return []
  const wires = joins.map((c) => {
    const { title } = kind.get(c.from === brain ? c.to : c.from)!
    const at = `${title.charAt(0).toLowerCase()}${title.slice(1)}`
    return c.from === brain ? `${c.id} to the supply side of ${at}` : `${c.id} to − of ${at}`
  })
  return [
    plain(
      `GND of the controller is joined with the track supply on the minus side: ${wires.join(', ')}. The drivers read the controller’s pins against it, so nothing works, or a driver does what it likes, while ${joins.length === 1 ? 'this wire is' : 'one of these wires is'} missing. The plus sides are not joined.`,
    ),
    plain(
      'Neither rail is ground. With USB plugged in, − of the track supply is at the ground of the computer, often mains earth; so use track supplies whose output is not earthed, and join GND with nothing else.',
    ),
  ]
}
