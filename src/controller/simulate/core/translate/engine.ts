/** The WebAssembly engine, where there is one and the page's policy allows it. */

export interface WasmMemory {
  readonly buffer: ArrayBuffer
}

interface WasmEngine {
  Memory: new (size: { initial: number }) => WasmMemory
  Module: new (bytes: Uint8Array) => object
  Instance: new (module: object, imports: object) => { readonly exports: Readonly<Record<string, unknown>> }
}

const engine = (globalThis as { WebAssembly?: WasmEngine }).WebAssembly

/** @param pages of 64 KiB. @returns undefined where there is no engine. */
export function newMemory(pages: number): WasmMemory | undefined {
  return engine && new engine.Memory({ initial: pages })
}

/** @returns undefined where the policy of the page does not allow it. */
export function compile(bytes: Uint8Array): object | undefined {
  try {
    return engine && new engine.Module(bytes)
  } catch {
    return undefined
  }
}

/** The module's function `run`. @param imports functions and memory, by name */
export function instantiate(module: object, imports: object): (block: number) => void {
  const instance = new engine!.Instance(module, { e: imports })
  return instance.exports['run'] as (block: number) => void
}
