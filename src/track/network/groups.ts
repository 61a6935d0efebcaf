/** Plain union–find over nodes. */
export class Groups {
  readonly #parent: Int32Array
  constructor(size: number) {
    this.#parent = Int32Array.from({ length: size }, (_, i) => i)
  }
  find(x: number): number {
    const p = this.#parent
    let at = x
    while (p[at] !== at) {
      p[at] = p[p[at]!]!
      at = p[at]!
    }
    return at
  }
  join(a: number, b: number): void {
    this.#parent[this.find(a)] = this.find(b)
  }
}
