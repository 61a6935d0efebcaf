/** How many packets each step of a service-mode operation takes at least. Source: S-9.2.3:2012 E (confirmed). */

export const SERVICE_MODES = ['direct', 'address-only', 'register', 'paged'] as const
export type ServiceMode = (typeof SERVICE_MODES)[number]

export interface ServiceSteps {
  /** Resets before each operation. */
  resets: number
  verify: number
  write: number
  /** After a write: more of the same write, or resets. */
  recovery: number
  /** The same for register 1, the address. */
  recoveryOfAddress: number
  /** Page presets, or writes to the page register, before it; absent where there is no page. */
  page?: number
  /** Recovery after those. */
  pageRecovery?: number
  /** More of the same preset count as its recovery, too; else resets alone. */
  presetsRecover?: boolean
  /** Resets after a verify that was acknowledged. */
  afterAcknowledgedVerify: number
}

export const SERVICE_STEPS: Readonly<Record<ServiceMode, ServiceSteps>> = {
  direct: { resets: 3, verify: 5, write: 5, recovery: 6, recoveryOfAddress: 6, afterAcknowledgedVerify: 1 },
  'address-only': {
    resets: 3,
    verify: 5,
    write: 5,
    recovery: 10,
    recoveryOfAddress: 10,
    page: 5,
    pageRecovery: 6,
    presetsRecover: true,
    afterAcknowledgedVerify: 0,
  },
  register: {
    resets: 3,
    verify: 7,
    write: 5,
    recovery: 6,
    recoveryOfAddress: 10,
    page: 5,
    pageRecovery: 6,
    afterAcknowledgedVerify: 0,
  },
  paged: {
    resets: 3,
    verify: 5,
    write: 5,
    recovery: 6,
    recoveryOfAddress: 6,
    page: 5,
    pageRecovery: 6,
    afterAcknowledgedVerify: 0,
  },
}

/** Valid packets after power is applied, before any operation (S-9.2.3:2012 E, confirmed). */
export const POWER_ON_PACKETS = 20
/** Identical packets in a row, nothing valid between, that make a decoder act (S-9.2.3:2012 E, confirmed). */
export const PACKETS_TO_ACT = 2
/** Time without a valid reset or service-mode packet after which decoders leave service mode, us (C, confirmed). */
export const SERVICE_TIME_OUT_US = 20_000
