/**
 * WebAssembly written as lists of bytes, for loops that the engines' own compilers make slow code of. Source of the encoding:
 * WebAssembly Core Specification, with its vectors of 128 bits.
 */

export type Code = readonly number[]

/** What both hosts, browsers and Node, have of it. */
export interface WebAssemblyHost {
  Memory: new (limits: { initial: number }) => { readonly buffer: ArrayBuffer; grow(pages: number): number }
  Module: new (bytes: Uint8Array) => object
  Instance: new (module: object, imports: object) => { readonly exports: Record<string, unknown> }
}

/** Undefined in an old browser. A page may forbid what it is for: to compile then throws. */
export function webAssembly(): WebAssemblyHost | undefined {
  return (globalThis as { WebAssembly?: WebAssemblyHost }).WebAssembly
}

/** What is made of it when first asked for, once; undefined where a page or an old browser forbids or lacks it. */
export function once<T>(make: (host: WebAssemblyHost) => T): () => T | undefined {
  let made: T | undefined
  let isAsked = false
  return () => {
    if (isAsked) return made
    isAsked = true
    const host = webAssembly()
    try {
      if (host) made = make(host)
    } catch {
      // Whoever asks has a plain way, too.
    }
    return made
  }
}

/** Bytes of a page of memory. */
export const PAGE = 65536

export const TYPE = { i32: 0x7f, i64: 0x7e, f64: 0x7c, v128: 0x7b, empty: 0x40 } as const

export const get = (local: number): Code => [0x20, local]
export const set = (local: number, value: Code): Code => [...value, 0x21, local]

/** An instruction with two operands. */
export const op =
  (...code: number[]) =>
  (a: Code, b: Code): Code => [...a, ...b, ...code]

/** A whole number of 32 bits. */
export const whole = (value: number): Code => [0x41, ...signed(BigInt(value))]
/** One of 64 bits. */
export const long = (value: bigint): Code => [0x42, ...signed(BigInt.asIntN(64, value))]
export const float = (value: number): Code => [
  0x44,
  ...new Uint8Array(new Float64Array([value]).buffer, 0, 8),
]

/** LEB128. */
export function unsigned(value: number): number[] {
  return value < 0x80 ? [value] : [(value & 0x7f) | 0x80, ...unsigned(value >>> 7)]
}

function signed(value: bigint): number[] {
  if (value >= -0x40n && value < 0x40n) return [Number(value & 0x7fn)]
  return [Number(value & 0x7fn) | 0x80, ...signed(value >> 7n)]
}

/**
 * A module with one function, `run`, on a memory that it is given as `own.memory`.
 * @param locals how many of which type come behind the parameters
 */
export function moduleOf(
  parameters: readonly number[],
  results: readonly number[],
  locals: readonly (readonly [count: number, type: number])[],
  code: Code,
): Uint8Array {
  const name = (text: string) => [text.length, ...[...text].map((c) => c.charCodeAt(0))]
  const section = (id: number, ...content: number[]) => [id, ...unsigned(content.length), ...content]
  const body = [locals.length, ...locals.flat(), ...code, 0x0b]
  return Uint8Array.from([
    ...[0, 0x61, 0x73, 0x6d, 1, 0, 0, 0],
    ...section(1, 1, 0x60, parameters.length, ...parameters, results.length, ...results),
    ...section(2, 1, ...name('own'), ...name('memory'), 2, 0, 1),
    ...section(3, 1, 0),
    ...section(7, 1, ...name('run'), 0, 0),
    ...section(10, 1, ...unsigned(body.length), ...body),
  ])
}
