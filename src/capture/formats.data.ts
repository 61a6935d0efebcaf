/** The formats of captures: one list for the command line, the design file, the workbench and the importers. */

interface FormatInfo {
  /** As people call it. */
  title: string
  /** It must be given: its bytes do not tell. */
  mustBeGiven: boolean
  /** Records begin at any byte: nothing but samples in it. */
  isBare: boolean
}

export const CAPTURE_FORMATS = {
  vcd: { title: 'VCD', mustBeGiven: false, isBare: false },
  csv: { title: 'CSV', mustBeGiven: false, isBare: false },
  raw: { title: 'raw samples', mustBeGiven: true, isBare: true },
} as const satisfies Record<string, FormatInfo>

export type CaptureFormat = keyof typeof CAPTURE_FORMATS

export const CAPTURE_FORMAT_IDS = Object.keys(CAPTURE_FORMATS) as CaptureFormat[]

/** `VCD, CSV or raw samples`. */
export const CAPTURE_FORMAT_NAMES = listOf(Object.values(CAPTURE_FORMATS).map((f) => f.title))

function listOf(names: readonly string[]): string {
  return `${names.slice(0, -1).join(', ')} or ${names.at(-1)}`
}
