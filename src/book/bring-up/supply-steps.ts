/** Before first power, and the supplies by themselves. */
import { plain, said } from '../contents/figure.js'
import type { BookSources } from '../contents/sources.js'
import type { Step } from './step.js'

export function supplySteps(s: BookSources): Step[] {
  const { power } = s.loaded.design
  if (!power) return []
  return [
    {
      id: 'before-power',
      title: 'Before any power: no short in the wiring, and nothing open',
      instrument: 'ohmmeter, or the continuity range of a meter',
      probes: plain(
        'Everything wired, supplies and USB unplugged, all fuses out, no locomotive on the rails. Between + and − at every driver; between the two wires of every district behind its fuse; between each of these wires and −. Then from end to end of each wire of the wiring list, and from GND of the controller to − of each supply.',
      ),
      expected: plain(
        'No tone between + and −, between the wires of a district, or from them to −. With capacitors, the reading starts low and climbs; a terminator gives no lasting reading; from − to an output of a driver a meter may show its diodes, one way round only. A tone along each wire, and from GND to −.',
      ),
      off: [
        plain(
          'A tone between the two wires of a district: a crossed feeder, a turnout frog, a metal axle left on the rails.',
        ),
        plain(
          'A tone between a wire and −: a wire in the wrong terminal. Compare it with the wiring list, number by number.',
        ),
        plain(
          'No tone along a wire, or from GND to −: an open joint. A feeder without one hides behind its neighbours until a train stops there.',
        ),
      ],
      not: plain('Do not go on with a tone that you cannot explain; the next step would put power on it.'),
    },
    ...Object.keys(power.supplies).flatMap((name) => supplyStep(s, name)),
  ]
}

/** Supplies that wheels join over gaps are set alike. */
function joinedBy({ track, stages }: BookSources, name: string): string {
  const supplyOf = (district: string) => stages.find((d) => d.name === district)?.supplyName
  const others = (track?.gaps ?? []).flatMap(({ kind, districts }) => {
    const [a, b] = districts.map(supplyOf)
    if (kind !== 'two supplies' || (a !== name && b !== name)) return []
    return [a === name ? b! : a!]
  })
  const names = [...new Set(others)]
  return names.length === 0
    ? ''
    : ` Take the same meter as for ${names.join(', ')}: wheels across gaps join these supplies, so they must be alike.`
}

function supplyStep(s: BookSources, name: string): Step[] {
  const { figures: f, loaded } = s
  const { fuse } = loaded.design.power!.supplies[name]!
  const at = ['design', 'power', 'supplies', name] as const
  const [volt, share] = [
    [...at, 'voltage'],
    [...at, 'tolerance'],
  ] as const
  const low = f.by('V', 'less its tolerance', volt, share)!
  const high = f.by('V', 'plus its tolerance', volt, share)!
  return [
    {
      id: `supply-${name}`,
      title: `Supply ${name} by itself`,
      instrument: 'DC meter',
      probes: plain(
        fuse === undefined
          ? `Disconnect the + wire of ${name} at the supply, so that nothing is fed. Plug in ${name} alone; meter between its + and −. Unplug it afterwards, and put the wire back.`
          : `Leave the fuse of supply ${name} out, so that nothing is fed. Plug in ${name} alone; meter between its + and −. Unplug it afterwards.${joinedBy(s, name)}`,
      ),
      expected: said`${low} to ${high}`,
      range: { reading: 'supply', of: name, low, high },
      off: [
        plain(
          'Higher: a supply of another kind, or an adjustable one that is not set yet. Set it now; later, every part sees this voltage.',
        ),
        plain('Lower or unsteady: a supply for another load, or one that needs a minimum load.'),
        plain('Negative: red and black are swapped; driver boards do not survive that.'),
      ],
      not: plain(
        'Do not open the supply. Leave everything on the mains side to a licensed electrician; local electrical codes come first.',
      ),
    },
  ]
}
