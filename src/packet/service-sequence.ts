/**
 * Whole service-mode sequences: the packets that one operation takes, in their order. Counts: S-9.2.3:2012 E (confirmed),
 * in `sequence.data.ts`.
 */
import { encodePacket } from './encode.js'
import type { CvAccess, Packet } from './packet.js'
import { pageOfCv } from './paging.js'
import { POWER_ON_PACKETS, SERVICE_STEPS, type ServiceMode } from './sequence.data.js'

export interface ServiceRequest {
  mode: ServiceMode
  access: CvAccess
  /** Power has just been applied: decoders need packets before any operation. */
  fromPowerOn?: boolean
}

/** One packet sent so many times in a row. */
export interface ServiceStep {
  times: number
  bytes: Uint8Array
  /** What it is for: `resets before the operation`. */
  says: string
}

/** Register that holds a CV in physical register mode (S-9.2.3:2012 E): of a multi-function decoder. */
const REGISTER_OF: Readonly<Record<number, number>> = { 1: 1, 2: 2, 3: 3, 4: 4, 29: 5, 7: 7, 8: 8 }
const RESET: Packet = { kind: 'reset', target: { kind: 'all' } }

function register(op: 'verify' | 'write', number: number, value: number): Packet {
  return { kind: 'service-register', op, register: number, value }
}

/** Register of the operation, and what the page register must hold; none in direct mode. */
function registerOf(mode: ServiceMode, cv: number): { register: number; page: number } | undefined {
  if (mode === 'direct') return undefined
  if (mode === 'paged') return pageOfCv(cv)
  const register = mode === 'address-only' ? (cv === 1 ? 1 : undefined) : REGISTER_OF[cv]
  if (register === undefined)
    throw new RangeError(
      `CV is ${cv}; ${mode} mode reaches ${mode === 'address-only' ? 'CV1' : 'CV1 to CV4, CV7, CV8 and CV29'}`,
    )
  return { register, page: 1 }
}

/**
 * @throws RangeError for what the mode cannot do.
 */
export function serviceSequence({ mode, access, fromPowerOn = false }: ServiceRequest): ServiceStep[] {
  const steps = SERVICE_STEPS[mode]
  const list: ServiceStep[] = []
  const add = (times: number, packet: Packet, says: string) => {
    if (times > 0) list.push({ times, bytes: encodePacket(packet), says })
  }
  const does = access.op === 'write' || access.op === 'write-bit' ? 'write' : 'verify'
  const place = registerOf(mode, access.cv)
  if (place && (access.op === 'verify-bit' || access.op === 'write-bit'))
    throw new RangeError(`${mode} mode reaches whole bytes; single bits take direct mode`)
  if (mode === 'address-only' && access.value > 127)
    throw new RangeError(`value is ${access.value}; expected an address to 127`)
  if (fromPowerOn) add(POWER_ON_PACKETS, RESET, 'after power is applied')
  if (place && steps.page !== undefined) {
    add(steps.resets, RESET, 'resets before the page register')
    add(steps.page, register('write', 6, place.page), place.page === 1 ? 'page preset' : 'page register')
    add(steps.pageRecovery ?? 0, RESET, 'recovery of the page register')
  }
  add(steps.resets, RESET, 'resets before the operation')
  add(
    does === 'write' ? steps.write : steps.verify,
    place ? register(does, place.register, access.value) : { kind: 'service-direct', access },
    does === 'write' ? 'the write' : 'the verify',
  )
  const recovery = access.cv === 1 ? steps.recoveryOfAddress : steps.recovery
  if (does === 'write') add(recovery, RESET, 'recovery')
  else add(steps.afterAcknowledgedVerify, RESET, 'after the acknowledgement')
  // Decoders expect the page register at 1 when work is done (S-9.2.3:2012 E).
  if (place && place.page !== 1 && steps.page !== undefined) {
    add(steps.resets, RESET, 'resets before the page register')
    add(steps.page, register('write', 6, 1), 'page register back to 1')
    add(steps.pageRecovery ?? 0, RESET, 'recovery of the page register')
  }
  return list
}

/** The factory reset: 8 into register 8, by the sequence of physical registers (S-9.2.3:2012 E). */
export function factoryResetSequence(fromPowerOn = false): ServiceStep[] {
  return serviceSequence({ mode: 'register', access: { op: 'write', cv: 8, value: 8 }, fromPowerOn })
}
