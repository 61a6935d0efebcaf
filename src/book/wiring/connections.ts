/** What a station is wired of: parts with their terminals, and every connection between them, each once. */

import type { WireRole } from '../contents/options.js'
import type { WiringSources } from '../contents/sources.js'
import { layPower } from './power-wiring.js'
import { layTrack } from './track-wiring.js'

export type NodeKind =
  | 'supply'
  | 'own supply'
  | 'regulator'
  | 'controller'
  | 'fuse'
  | 'sense'
  | 'resistor'
  | 'capacitor'
  | 'driver'
  | 'breaker'
  | 'bus'
  | 'terminator'
  | 'section'
  | 'rails'

export interface WiredPart {
  id: string
  kind: NodeKind
  /** Name for people. */
  title: string
  /** What else is on it: `DRV8874`, `2.5 A`. */
  detail: string
  /** On which other sheets of the diagram it is. */
  more?: string
}

export interface Connection {
  /** `W1`, in the order of the wiring list. */
  id: string
  from: string
  /** Terminal of the part. */
  fromAt: string
  to: string
  toAt: string
  /** One wire, or a pair that runs together. */
  roles: readonly WireRole[]
  /** `18 AWG`, as in the design; absent where the book chooses it. */
  wire?: string
  /** Length of the run, one way, mm; absent where it is a lead inside the station. */
  lengthMm?: number
  /** Most that may flow continuously, A; absent for signals. */
  amp?: number
  /** Key of the design that asks for it, as a check that none is missing. */
  because: string
}

export interface Wiring {
  parts: readonly WiredPart[]
  connections: readonly Connection[]
}

/** Collects parts and connections; a part asked for twice is one part. */
export class WiringList {
  readonly parts = new Map<string, WiredPart>()
  readonly connections: Omit<Connection, 'id'>[] = []

  part(kind: NodeKind, name: string, title: string, detail = ''): string {
    const id = `${kind} ${name}`
    if (!this.parts.has(id)) this.parts.set(id, { id, kind, title, detail })
    return id
  }

  wire(c: Omit<Connection, 'id'>): void {
    this.connections.push(c)
  }
}

export function wiringOf(sources: WiringSources): Wiring {
  const list = new WiringList()
  const ends = layPower(list, sources)
  layTrack(list, sources, ends)
  return {
    parts: [...list.parts.values()],
    connections: list.connections.map((c, i) => ({ id: `W${i + 1}`, ...c })),
  }
}
