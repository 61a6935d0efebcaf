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
  loggedAddresses: 0x60340,
  loggedValues: 0x60400,
  /** Per watched place, in the order of the module: 1 while it is watched. */
  watched: 0x60460,
  /** Per word of flash: number of the block that begins there, 16 bits; 0: none. */
  blocks: 0x62000,
  flash: 0xb0000,
  pages: 0xf,
} as const

export const MOST_WATCHED = 0x1b00
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
  savedPc: 7,
  lowestSp: 8,
  /** End of the last WDR that the core has not heard of; 0: none. */
  kicked: 9,
  /** Bytes changed since the last save, also those beyond `MOST_LOGGED`. */
  logged: 10,
  words: 16,
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
