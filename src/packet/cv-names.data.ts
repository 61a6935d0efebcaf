/** What CVs are for. Source: S-9.2.2:2012 (confirmed); makers use the others as they like. */

const MULTI_FUNCTION: Readonly<Record<number, string>> = {
  1: 'short address',
  2: 'start voltage',
  3: 'acceleration',
  4: 'deceleration',
  5: 'maximum voltage',
  6: 'mid voltage',
  7: 'version, read-only',
  8: 'maker, read-only',
  9: 'total PWM period',
  10: 'back-EMF cut-out',
  11: 'packet time-out',
  12: 'power-source conversion',
  13: 'functions F1 to F8 in analog mode',
  14: 'FL and F9 to F12 in analog mode',
  15: 'decoder lock',
  16: 'decoder lock',
  17: 'long address, high byte',
  18: 'long address, low byte',
  19: 'consist address',
  21: 'functions F1 to F8 of the consist',
  22: 'FL and F9 to F12 of the consist',
  23: 'acceleration adjustment',
  24: 'deceleration adjustment',
  25: 'speed table or mid step',
  27: 'automatic stop',
  28: 'bidirectional communication',
  29: 'configuration',
  30: 'error information',
  31: 'index, high byte',
  32: 'index, low byte',
  65: 'kick start',
  66: 'forward trim',
  95: 'reverse trim',
  105: 'user identifier',
  106: 'user identifier',
}

/** Accessory decoders number from 1 or from 513; both are accepted. */
const ACCESSORY: Readonly<Record<number, string>> = {
  1: 'address, low part',
  2: 'auxiliary activation',
  3: 'on-time of output F1',
  4: 'on-time of output F2',
  5: 'on-time of output F3',
  6: 'on-time of output F4',
  7: 'version, read-only',
  8: 'maker, read-only',
  9: 'address, high part',
  28: 'bidirectional communication',
  29: 'configuration',
  31: 'index, high byte',
  32: 'index, low byte',
}

/** Name of a CV of one kind of decoder; undefined where the standard gives none. */
export function cvName(cv: number, decoder: 'multi-function' | 'accessory'): string | undefined {
  if (decoder === 'accessory') return ACCESSORY[cv > 512 ? cv - 512 : cv]
  if (cv >= 33 && cv <= 46) return 'output location'
  if (cv >= 67 && cv <= 94) return `speed table, entry ${cv - 66}`
  if (cv >= 257 && cv <= 512) return 'indexed by CV31 and CV32'
  return MULTI_FUNCTION[cv]
}

/** Names for either kind of decoder, for a programming track where both may stand. */
export function cvNameAnywhere(cv: number): string | undefined {
  const [loco, accessory] = [cvName(cv, 'multi-function'), cvName(cv, 'accessory')]
  if (loco === accessory) return loco
  if (accessory === undefined) return loco
  return loco === undefined ? `accessory: ${accessory}` : `${loco}; accessory: ${accessory}`
}
