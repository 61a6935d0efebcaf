/**
 * Every packet of the standards as plain data, in the units a builder uses. Sources: S-9.2:2004, S-9.2.1:2012,
 * S-9.2.3:2012 (confirmed); what is from memory (RCN-211, -212, -213, -214) says so in `decode.ts`.
 */

/** Who should act on an instruction for multi-function decoders. */
export type Target =
  | { kind: 'short'; address: number } // 1–127
  | { kind: 'long'; address: number } // 0–10239
  | { kind: 'all' }

/** Board of four output pairs (0–511 on the wire; user numbering is a matter of the offset), or all of them. */
export type Board = number | 'all'

/** Function groups, by their first function; F0 is the headlight FL. */
export const FUNCTION_GROUPS = [0, 5, 9, 13, 21, 29, 37, 45, 53, 61] as const
export type FunctionGroup = (typeof FUNCTION_GROUPS)[number]

export type CvAccess =
  | { op: 'verify'; cv: number; value: number }
  | { op: 'write'; cv: number; value: number }
  | { op: 'verify-bit' | 'write-bit'; cv: number; bit: number; value: number }

export type Packet =
  | { kind: 'idle' }
  | { kind: 'reset'; target: Target }
  | { kind: 'hard-reset'; target: Target }
  | { kind: 'factory-test'; target: Target; flag: number; data: number[] }
  | { kind: 'flags'; target: Target; flag: number; code: number; sub: number }
  | { kind: 'extended-addressing'; target: Target; on: boolean }
  | { kind: 'acknowledgement-request'; target: Target; on: boolean }
  | { kind: 'broadcast-stop'; forward: boolean; directionIgnored: boolean; immediate: boolean }
  | {
      kind: 'speed'
      target: Target
      /** Steps of the scale; 14 carries the headlight in the same byte. */
      of: 14 | 28
      /** 0 stops. */
      step: number
      forward: boolean
      emergency: boolean
      /** 28 steps, stopping only. */
      directionIgnored: boolean
      /** 14 steps only. */
      headlight: boolean
    }
  | { kind: 'speed-126'; target: Target; step: number; forward: boolean; emergency: boolean }
  | { kind: 'restricted-speed'; target: Target; enabled: boolean; code: number }
  | { kind: 'analog-function'; target: Target; output: number; value: number }
  | {
      kind: 'speed-and-functions'
      target: Target
      step: number
      forward: boolean
      emergency: boolean
      /** F0–F7, F8–F15, F16–F23, F24–F31 as bytes, lowest function in bit 0. */
      functions: number[]
    }
  | { kind: 'functions'; target: Target; group: FunctionGroup; on: number[] }
  | { kind: 'binary-state'; target: Target; state: number; on: boolean; form: 'short' | 'long' }
  | { kind: 'consist'; target: Target; consist: number; reversed: boolean }
  | { kind: 'cv'; target: Target; access: CvAccess }
  | { kind: 'cv-short'; target: Target; which: 'CV23' | 'CV24' | 'CV17+18' | 'CV31+32'; values: number[] }
  | {
      kind: 'cv-extended'
      target: Target
      op: 'read' | 'write' | 'bit'
      sequence: number
      /** CV number 1–16777216. */
      cv: number
      data: number[]
    }
  | { kind: 'layout-time'; minute: number; weekday: number; hour: number; update: boolean; factor: number }
  | { kind: 'layout-date'; day: number; month: number; year: number }
  | { kind: 'system-time'; milliseconds: number }
  | { kind: 'station-capabilities'; data: number[] }
  | { kind: 'accessory'; board: Board; pair: number; output: number; on: boolean }
  | { kind: 'extended-accessory'; address: number | 'all'; aspect: number }
  | { kind: 'accessory-poll'; board: number; pair: number; extended: boolean }
  | { kind: 'accessory-cv'; board: number; output: number | 'whole'; access: CvAccess }
  | { kind: 'extended-accessory-cv'; address: number; access: CvAccess }
  | { kind: 'accessory-cv-legacy'; board: number; cv: number; value: number }
  /**
   * First byte 253 to an addressed decoder, 254 by unique ID: content as it is, without the CRC-8 that packets of more
   * than six bytes carry before the error byte.
   */
  | { kind: 'advanced-extended' | 'automatic-logon'; data: number[]; crc: boolean }
  | { kind: 'service-direct'; access: CvAccess }
  | { kind: 'service-register'; op: 'verify' | 'write'; register: number; value: number }
  | { kind: 'service-address-query'; address: number }
  | { kind: 'service-lock'; address: number }

/** How bytes that depend on where or for whom they are sent should be read. */
export interface PacketOptions {
  /** First bytes 112–127 are service-mode packets only in service mode. Default operations. */
  mode?: 'operations' | 'service'
  /** User address of the first accessory output pair: 4 counts from board 1, 0 from board 0. Default 4. */
  accessoryOffset?: number
  /** Reading of a baseline speed byte: bit 4 is the low step bit (28) or the headlight (14). Default 28. */
  steps?: 14 | 28
}
