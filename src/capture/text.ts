/** Bytes as text. `TextDecoder` is in Node, browsers and workers alike, though in no language standard. */
declare class TextDecoder {
  constructor(label: string)
  decode(bytes: Uint8Array): string
}

const UTF8 = new TextDecoder('utf-8')
const LATIN1 = new TextDecoder('latin1')

/** UTF-8; what is none is taken for Latin-1, as older instruments write it. */
export function textOf(bytes: Uint8Array): string {
  const text = UTF8.decode(bytes)
  return text.includes('\ufffd') ? latin1(bytes) : text
}

/** One letter a byte. */
export function latin1(bytes: Uint8Array): string {
  return LATIN1.decode(bytes)
}
