/**
 * VCD as general HDL simulators write it: iverilog and ghdl (Debian packages) run here, on a packet whose half-bits are
 * those of S-9.1:2020 Table 1. Whatever else they dump, the channel asked for is read.
 */
import { execFileSync, spawnSync } from 'node:child_process'
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from 'node:fs'
import { tmpdir } from 'node:os'
import { join } from 'node:path'
import { afterAll, describe, expect, it } from 'vitest'
import { GAP } from '../../src/signal/index.js'
import { read } from './read.js'

const has = (program: string) => spawnSync('which', [program]).status === 0
const folder = mkdtempSync(join(tmpdir(), 'halfbit-hdl-'))
afterAll(() => rmSync(folder, { recursive: true, force: true }))
const run = (program: string, ...args: string[]) =>
  execFileSync(program, args, { cwd: folder, stdio: 'pipe' })

/** S-9.2:2004 Fig. 1: locomotive 55, forward, step 6 of 28; twice, and the ones that close the last. */
const PACKET = [0x37, 0x74, 0x43]
const bits = [...PACKET, ...PACKET].flatMap((byte, i) => [
  ...(i % 3 === 0 ? [...(i > 0 ? [1] : []), ...Array.from({ length: 16 }, () => 1)] : []),
  0,
  ...[...byte.toString(2).padStart(8, '0')].map(Number),
])
const HALVES = [...bits, 1, 1].flatMap((one) => (one ? [58, 58] : [100, 100]))
const HEX = '377443'

describe.skipIf(!has('ghdl'))('VCD of a VHDL simulator', () => {
  const vhdl = () => {
    const steps = HALVES.map((us, i) => {
      const level = i % 2 === 0
      const other = ["'U'", "'W'", "'-'", "'Z'", "'X'"][i % 5]
      return `q <= '${level ? 1 : 0}'; weak <= '${level ? 'H' : 'L'}'; rails <= ${level ? '15.0' : '-15.0'};
        other <= ${other}; state <= ${level ? 'busy' : 'idle'}; number <= ${i}; wait for ${us} us;`
    })
    return `library ieee; use ieee.std_logic_1164.all;
entity bench is end bench;
architecture test of bench is
  type states is (idle, busy);
  signal q, weak, other : std_logic := 'U';
  signal vector : std_logic_vector(3 downto 0) := "UWH-";
  signal rails : real := 0.0;
  signal state : states := idle;
  signal number : integer := 0;
  signal flag : boolean := false;
begin
  process begin ${steps.join('\n')} wait; end process;
  vector(2) <= q;
end test;
`
  }
  it('is read on every channel that is a signal', () => {
    writeFileSync(join(folder, 'bench.vhd'), vhdl())
    run('ghdl', '-a', 'bench.vhd')
    run('ghdl', '-e', 'bench')
    run('ghdl', '-r', 'bench', '--vcd=vhdl.vcd', '--stop-time=30ms')
    const file = readFileSync(join(folder, 'vhdl.vcd'), 'utf8')
    // The file holds what this test is about.
    for (const value of [/^U/m, /^W/m, /^-/m, /^H/m, /^L/m, /^bU/m, /^r/m]) expect(file).toMatch(value)
    for (const channel of ['bench.q', 'weak', 'vector[2]', 'rails']) {
      const { packets, reading } = read(file, { channel: [channel] })
      expect(packets, channel).toEqual([HEX, HEX])
      expect(reading.one.minUs, channel).toBeCloseTo(58, 1)
      expect(reading.zero.maxUs, channel).toBeCloseTo(100, 1)
    }
    expect([...read(file, { channel: ['other'] }).edges.levels.subarray(0, 5)]).toContain(GAP)
  })
})

describe.skipIf(!has('iverilog'))('VCD of a Verilog simulator', () => {
  it('is read on every channel that is a signal, and what is not dumped is a gap', () => {
    const steps = HALVES.map(
      (us, i) =>
        `q = ${i % 2 === 0 ? 1 : 0}; rails = ${i % 2 === 0 ? '15.0' : '-15.0'}; number = ${i}; -> tick; #${us * 1000};`,
    )
    writeFileSync(
      join(folder, 'bench.v'),
      `\`timescale 1ns/1ps
module bench;
  reg q; wire weak; reg [3:0] vector; real rails; integer number; event tick;
  assign (weak1, weak0) weak = q;
  always @(q) vector = {1'bz, q, 1'bx, 1'b1};
  initial begin
    $dumpfile("verilog.vcd"); $dumpvars(0, bench);
    ${steps.join('\n')}
    $dumpoff; #3000000; $dumpon;
    ${steps.join('\n')}
    $finish;
  end
endmodule
`,
    )
    run('iverilog', '-o', 'bench.vvp', 'bench.v')
    run('vvp', '-n', 'bench.vvp')
    const file = readFileSync(join(folder, 'verilog.vcd'), 'utf8')
    for (const value of [/^rNaN/m, /^bz/m, /\$var event/, /^x/m]) expect(file).toMatch(value)
    for (const channel of ['bench.q', 'weak', 'vector[2]', 'rails']) {
      const { packets, edges, reading } = read(file, { channel: [channel] })
      expect(packets, channel).toEqual([HEX, HEX, HEX, HEX])
      expect(reading.one.minUs, channel).toBeCloseTo(58, 1)
      const levels = [...edges.levels.subarray(0, edges.count)]
      expect(
        levels.slice(2, -2).filter((l) => l === GAP),
        channel,
      ).toHaveLength(1)
    }
  })
})
