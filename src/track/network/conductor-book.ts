import { type Conductor, railConductor, wireConductor } from '../conductors/conductor.js'
import { DesignConflict } from '../design-conflict.js'
import type { Path, TrackLayout } from '../layout/layout.js'

/** Conductors, each found once. */
export class ConductorBook {
  readonly conductors: Conductor[] = []
  readonly #index = new Map<string, number>()
  readonly #celsius: number
  #like: TrackLayout['tracks'][number] | undefined
  #rail = -1

  constructor(celsius: number) {
    this.#celsius = celsius
  }

  /** @throws DesignConflict for an unknown gauge. */
  wire(text: string, kind: 'solid' | 'flexible' | 'tinned', path: Path): number {
    return this.#find(`${text}|${kind}`, path, () => wireConductor(text, kind, this.#celsius))
  }

  /** @throws DesignConflict for an unknown rail. */
  rail(t: TrackLayout['tracks'][number]): number {
    if (t.code !== this.#like?.code || t.alloy !== this.#like.alloy) {
      this.#like = t
      this.#rail = this.#find(`rail ${t.code} ${t.alloy}`, [...t.path, 'rail'], () =>
        railConductor(t.code, t.alloy, this.#celsius),
      )
    }
    return this.#rail
  }

  #find(key: string, path: Path, make: () => Conductor): number {
    let index = this.#index.get(key)
    if (index === undefined) {
      try {
        index = this.conductors.push(make()) - 1
      } catch (error) {
        throw new DesignConflict(path, error instanceof Error ? error.message : String(error))
      }
      this.#index.set(key, index)
    }
    return index
  }
}
