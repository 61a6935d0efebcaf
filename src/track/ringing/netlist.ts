/** The ringing circuit as a plain SPICE netlist, and its results read back. */

import type { RingCircuit } from './circuit.js'
import { BRIDGE, EDGE_AT_US } from './plain-ladder.js'

const num = (value: number) => String(Number(value.toPrecision(9)))

/**
 * Netlist of one edge. Node `nK` is node K of the circuit against node 0, the other wire.
 * @param stepNs greatest step of the analysis.
 */
export function ringNetlist(c: RingCircuit, untilUs: number, stepNs = stepFor(c)): string {
  const lines = [
    `* Halfbit: an edge on the bus of district ${c.district.replace(/[^\w .-]/g, ' ')}`,
    '* Voltages are between the two wires; probes:',
    ...c.probes.map((k) => `*   n${k} is ${c.names[k]!.replace(/[^\w .-]/g, ' ')}`),
    `Vdrive src 0 PWL(0 ${num(-c.volt)} ${EDGE_AT_US}u ${num(-c.volt)} ${num(EDGE_AT_US + c.edgeUs)}u ${num(c.volt)})`,
    `Rsource src n0 ${num(c.sourceOhm)}`,
    '* Junction capacitance and the small capacitors behind the bridge let the analysis step through the switching.',
    '.model bridge D(IS=1e-9 N=1.7 RS=0.02 CJO=20p)',
  ]
  c.farad.forEach((f, k) => {
    lines.push(`C${k} n${k} 0 ${num(f)}`)
    if (c.siemens[k]! > 0) lines.push(`G${k} n${k} 0 n${k} 0 ${num(c.siemens[k]!)}`)
  })
  c.branches.forEach((b, k) => {
    const middle = b.skin ? `s${k}` : `n${b.to}`
    lines.push(
      `L${k} n${b.from} m${k} ${num(b.henry)}`,
      `R${k} m${k} ${middle} ${num(Math.max(1e-6, b.ohm))}`,
    )
    if (b.skin)
      lines.push(
        `RS${k} ${middle} n${b.to} ${num(b.skin.ohm)}`,
        `LS${k} ${middle} n${b.to} ${num(b.skin.henry)}`,
      )
  })
  c.decoders.forEach((d, k) => {
    lines.push(
      `* decoder of ${d.name.replace(/[^\w .-]/g, ' ')}`,
      `DA${k} n${d.node} p${k} bridge`,
      `DB${k} 0 p${k} bridge`,
      `DC${k} q${k} n${d.node} bridge`,
      `DD${k} q${k} 0 bridge`,
      `RE${k} p${k} r${k} ${num(BRIDGE.ohm)}`,
      `CE${k} r${k} q${k} ${num(d.reservoirFarad)}`,
      `IE${k} r${k} q${k} ${num(d.amp)}`,
      `CP${k} p${k} 0 10p`,
      `CQ${k} q${k} 0 10p`,
      `RG${k} q${k} 0 1meg`,
    )
  })
  c.terminators.forEach((t, k) => {
    lines.push(`RT${k} n${t.node} t${k} ${num(t.ohm)}`, `CT${k} t${k} 0 ${num(t.farad)}`)
  })
  lines.push(
    '.options reltol=1e-3 abstol=1e-8 chgtol=1e-15 method=gear',
    `.save ${c.probes.map((k) => `v(n${k})`).join(' ')}`,
    `.tran ${num(stepNs)}n ${num(untilUs)}u 0 ${num(stepNs)}n`,
    '.end',
  )
  return `${lines.join('\n')}\n`
}

/**
 * A twentieth of the way to the far end along the line, 0.5 to 5 ns: Gear's method damps whatever rings faster than a few
 * dozen of its steps, so that a bus of 3 m would seem to peak volts lower than it does.
 */
function stepFor(c: RingCircuit): number {
  // 5 ns on a metre.
  return Math.min(5, Math.max(0.5, (5 * c.farMm) / 1000 / 20))
}
