/** Files of any size, part by part: plain ones in slices, packed ones through the browser's own gzip. */
import { InputError } from '../../units/index.js'

export const SLICE_BYTES = 1 << 21

/** The first two bytes of gzip. */
export async function isPacked(file: Blob): Promise<boolean> {
  const head = new Uint8Array(await file.slice(0, 2).arrayBuffer())
  return head[0] === 0x1f && head[1] === 0x8b
}

/** Bytes `from` to `to`; the next slice is fetched while one is worked on, no more than two are held. */
export async function* slices(file: Blob, from: number, to: number): AsyncGenerator<Uint8Array> {
  const end = Math.min(to, file.size)
  const get = (at: number) => file.slice(at, Math.min(end, at + SLICE_BYTES)).arrayBuffer()
  let coming = from < end ? get(from) : undefined
  for (let at = from; coming; at += SLICE_BYTES) {
    const bytes = new Uint8Array(await coming)
    coming = at + SLICE_BYTES < end ? get(at + SLICE_BYTES) : undefined
    // Not waited for when nobody wants it any more.
    coming?.catch(() => {})
    yield bytes
  }
}

/** Unpacked parts, and how many packed bytes were read for them. @throws InputError for damaged gzip. */
export async function* unpacked(file: Blob): AsyncGenerator<{ bytes: Uint8Array; read: number }> {
  let read = 0
  const counted = new TransformStream<Uint8Array, Uint8Array>({
    transform(part, control) {
      read += part.length
      control.enqueue(part)
    },
  })
  const unpack = new DecompressionStream('gzip') as unknown as ReadableWritablePair<Uint8Array, Uint8Array>
  const reader = file.stream().pipeThrough(counted).pipeThrough(unpack).getReader()
  try {
    for (let part = await reader.read(); !part.done; part = await reader.read())
      yield { bytes: part.value, read }
  } catch (error) {
    if (error instanceof TypeError) throw new InputError('damaged gzip data')
    throw error
  } finally {
    void reader.cancel().catch(() => {})
  }
}

/** The first bytes of what is in the file. */
export async function headOf(file: Blob, bytes: number): Promise<Uint8Array> {
  if (!(await isPacked(file))) return new Uint8Array(await file.slice(0, bytes).arrayBuffer())
  const head = new Uint8Array(bytes)
  let filled = 0
  for await (const part of unpacked(file)) {
    const take = part.bytes.subarray(0, bytes - filled)
    head.set(take, filled)
    filled += take.length
    if (filled === bytes) break
  }
  return head.subarray(0, filled)
}
