/** What peripherals and the machine they sit in know of each other. */
import type { Finding } from '../../../finding/index.js'

/** A peripheral: registers in the data space and at most one scheduled event. Times are cycles since power-up. */
export interface Peripheral {
  /** Read a register that is hooked; the state is that of `at`. */
  read(address: number, at: number): number
  /** Write a register; `mask` has the bits concerned (SBI and CBI: one). */
  write(address: number, value: number, mask: number, at: number): void
  /** The event scheduled for `at` is due. */
  event(at: number): void
  /** The interrupt has been entered: clear its flag where the chip does. */
  acknowledge(vector: number, at: number): void
  reset(at: number): void
  /** The power reduction register stops its clock, or lets it run on; meanwhile its registers are out of reach. */
  power?(on: boolean, at: number): void
  /** The system clock is divided otherwise from `at` on: what was `ratio` cycles before is one now. */
  clockDivided?(ratio: number, at: number): void
  /** Report by `raised` when the flag of this interrupt comes up; undefined: no more. */
  wantFlag?(vector: number | undefined, at: number): void
}

/** What a peripheral may ask of the machine. */
export interface PeripheralHost {
  readonly data: Uint8Array
  /** The system clock as the firmware divides it now, Hz: as many cycles pass in a second. */
  readonly cpuHz: number
  /** Route writes, and reads too if `reads`, of an address to a device. */
  hook(address: number, device: Peripheral, reads: boolean): void
  /** A slot for one event at a time. */
  slot(device: Peripheral): number
  /** Set or move a slot's event; Infinity for none. */
  schedule(slot: number, at: number): void
  /** Whose interrupt it is. */
  own(vector: number, device: Peripheral): void
  /** The interrupt's condition (flag and enable) holds since `at`, or no longer. */
  request(vector: number, on: boolean, at: number): void
  /** The interrupt whose handler runs, and when its cause was; undefined in the main program. */
  handler(): { vector: number; requestedAt: number } | undefined
  /** A flag was set again before its interrupt had run. */
  overrun(vector: number, at: number): void
  /** A flag was raised, whether its interrupt is enabled or not: it may start a conversion. */
  raised(vector: number, at: number): void
  /** Let the owner of this interrupt report its flag by `raised`; undefined: none is wanted. */
  wantFlag(vector: number | undefined, at: number): void
  /** The last access was no pure function of the state: the program does not merely wait. */
  touch(): void
  /** Something the report should say once. */
  note(finding: Finding): void
  /** Something that is not simulated was turned on; which outputs that can concern. */
  lacks(finding: Finding, affects: readonly string[] | 'all' | 'none'): void
  /** Halt the CPU for some cycles. */
  stall(cycles: number): void
}

/** Where an output of a peripheral goes: a pin that it can take over. */
export interface PinOutput {
  /** Take over the port pin with this level. */
  drive(level: 0 | 1, at: number): void
  /** While on, the pin is an output whatever its direction bit says; takes effect with the next `drive` or `release`. */
  force(on: boolean): void
  /** Give the pin back. */
  release(at: number): void
}
