/**
 * The memory of a translated program: what the generated code, the interpreter and the peripherals share. Addresses in
 * bytes.
 */
export const LAYOUT = {
  /** Data space of the controller: registers, I/O, RAM. */
  data: 0,
  /** Per data address: when it was last remembered in the search for waiting loops. */
  epochs: 0x10000,
  addFlags: 0x20000,
  subFlags: 0x40000,
  logicFlags: 0x60000,
  incFlags: 0x60100,
  decFlags: 0x60200,
  /** Words of {@link STATE}. */
  state: 0x60300,
  /** Addresses, 16 bits each, and bytes that the RAM held at the last save of the search for waiting loops. */
  loggedAddresses: 0x60380,
  loggedValues: 0x60440,
  savedRegisters: 0x604a0,
  /** Words of {@link TIME}, 64-bit floating point. */
  times: 0x604c0,
  /** What is there without translated code, too, ends here. */
  ownEnd: 0x604e0,
  /** Per watched place, in the order of the module: 1 while it is watched. */
  watched: 0x604e0,
  /** Per word of flash: number of the block that begins there, 16 bits; 0: none. */
  blocks: 0x62000,
  flash: 0xb0000,
  pages: 0xf,
} as const

export const MOST_WATCHED = 0x1a00
/** Bytes of RAM that a waiting loop may use for its own work, mostly stack. */
export const MOST_LOGGED = 96
export const MOST_BLOCKS = 0xffff

/** Numbers of the words at `LAYOUT.state`. */
export const STATE = {
  pc: 0,
  cycles: 1,
  sreg: 2,
  sp: 3,
  limit: 4,
  epoch: 5,
  probe: 6,
  lowestSp: 8,
  /** End of the last WDR that the core has not heard of; 0: none. */
  kicked: 9,
  /** Bytes changed since the last save, also those beyond `MOST_LOGGED`. */
  logged: 10,
  /** Changes whenever something outside the instruction stream changed the state. */
  serial: 11,
  /** Changes at each access that is no pure function of the state. */
  changes: 12,
  /** The place that a waiting loop may come back to, or −1, and what was there. */
  savedPc: 7,
  savedSerial: 13,
  savedChanges: 14,
  savedSreg: 15,
  savedSp: 16,
  misses: 17,
  backoff: 18,
  skipWaiting: 19,
  words: 20,
} as const

/** Numbers of the times at `LAYOUT.times`, in cycles since power-up. */
export const TIME = {
  /** Where the count of `STATE.cycles` begins. */
  base: 0,
  saved: 1,
  /** Spent waiting. */
  waiting: 2,
  count: 3,
} as const

/** What is beyond registers and RAM, or seldom, and left to the core. */
export const RARE = {
  READ: 1,
  WRITE: 2,
  SET_BIT: 3,
  CLEAR_BIT: 4,
  SKIP: 5,
  PUSH: 6,
  CALL: 7,
  TURNED: 8,
  RETURNED: 9,
  SPECIAL: 10,
  LOOK: 11,
  TRAP: 12,
} as const
