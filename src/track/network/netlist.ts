/** The direct-current network as a plain SPICE netlist, for anyone who wants to check it with another program. */

import type { TrackLayout } from '../layout/layout.js'
import type { Circuit, ElectricalLoad } from './circuit.js'
import { EDGE, type Network } from './network.js'

const KIND = ['bus', 'feeder', 'rail', 'joiner', 'source', 'link'] as const

/** Lines that name the nodes people look for: both rails at every place. */
function legend(plan: TrackLayout, net: Network): string[] {
  return net.places.map((p) => {
    const t = plan.tracks[p.track]!
    return `* ${plain(t.leg ? `${t.name}.${t.leg}` : t.name)} at ${(p.atMm / 1000).toFixed(3)} m: rails n${p.a} and n${p.b}`
  })
}

function plain(text: string): string {
  return text.replace(/[^\w ./()-]/g, ' ')
}

/**
 * Netlist for an operating point. Lamps are resistors; other loads are behavioural sources with the same
 * law as here, falling with the voltage below the decoder's minimum. One node of each part of the network is node 0.
 */
export function dcNetlist(
  plan: TrackLayout,
  circuit: Circuit,
  loads: readonly ElectricalLoad[],
  withLegend = true,
): string {
  const { net, rowOf } = circuit.layout
  const node = (n: number) => (rowOf[n]! < 0 ? '0' : `n${n}`)
  const lines = ['* Halfbit: rails and wires as a direct-current network']
  if (withLegend) lines.push(...legend(plan, net))
  const ohm = net.ohm[circuit.corner]
  for (let e = 0; e < net.from.length; e++) {
    const [a, b] = [node(net.from[e]!), node(net.to[e]!)]
    if (a === b) continue
    const kind = net.kind[e]!
    if (kind === EDGE.source) {
      const d = net.owner[e]!
      lines.push(`V${d} s${d} ${b} ${circuit.openVolt(d)}`, `Rsource${d} s${d} ${a} ${ohm[e]}`)
    } else lines.push(`R${KIND[kind]}${e} ${a} ${b} ${ohm[e]}`)
  }
  loads.forEach((l, i) => {
    if (l.amp <= 0) return
    const [a, b] = [node(l.a), node(l.b)]
    const open = circuit.across(circuit.open, l.a, l.b)
    if (l.law === 'resistor') {
      lines.push(`Rload${i} ${a} ${b} ${Math.abs(open) / l.amp}`)
      return
    }
    const v = `v(${a},${b})`
    const least = Math.max(1e-6, Math.min(l.minVolt, Math.abs(open)))
    const above = l.law === 'current' ? `${l.amp}*sgn(${v})` : `${l.amp * Math.abs(open)}/${v}`
    const slope = l.law === 'current' ? l.amp / least : (l.amp * Math.abs(open)) / least ** 2
    lines.push(`Bload${i} ${a} ${b} I=abs(${v}) >= ${least} ? ${above} : ${slope}*${v}`)
  })
  lines.push('.op', '.end')
  return `${lines.join('\n')}\n`
}
