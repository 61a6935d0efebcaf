/** JSON that people may have edited: where a part of it is, where it stops to be JSON, and keys that are written twice. */

export interface TextPlace {
  /** From 1. */
  line: number
  column: number
}

/** Keys of objects and numbers of list items, from the outermost. */
export type JsonPath = readonly (string | number)[]

/** Deeper than any report, and far less than what the stack holds. */
const DEEPEST = 200

interface Fault {
  at: number
  found: string
  expected: string
}

/** @returns what makes the text no JSON, or JSON that says a thing twice; `undefined` where it is sound */
export function jsonFault(text: string): (TextPlace & { found: string; expected: string }) | undefined {
  try {
    new Walk(text, undefined).whole()
    return undefined
  } catch (error) {
    if (!(error instanceof Stopped)) throw error
    const { at, found, expected } = error.fault
    return { ...placeAt(text, at), found, expected }
  }
}

/** @param text of sound JSON. @returns where that part begins, or the innermost part around it that is there */
export function placeInJson(text: string, path: JsonPath): TextPlace {
  const walk = new Walk(text, path)
  walk.whole()
  return placeAt(text, walk.found)
}

function placeAt(text: string, at: number): TextPlace {
  const before = text.slice(0, at)
  return { line: before.split('\n').length, column: at - (before.lastIndexOf('\n') + 1) + 1 }
}

class Stopped extends Error {
  readonly fault: Fault
  constructor(fault: Fault) {
    super(fault.found)
    this.fault = fault
  }
}

class Walk {
  readonly #text: string
  readonly #path: JsonPath | undefined
  #at = 0
  /** Where the deepest part of the path that is there begins. */
  found = 0

  constructor(text: string, path: JsonPath | undefined) {
    this.#text = text
    this.#path = path
    if (text.startsWith('\ufeff')) this.#at = 1
  }

  whole(): void {
    this.#value(0, this.#path !== undefined)
    this.#space()
    if (this.#at < this.#text.length) this.#stop('the end of the file')
  }

  /** @param isOnPath whether all keys so far are those of the path */
  #value(depth: number, isOnPath: boolean): void {
    this.#space()
    if (isOnPath) this.found = this.#at
    if (depth > DEEPEST) this.#stop(`at most ${DEEPEST} lists and objects inside each other`)
    const first = this.#text[this.#at]
    if (first === '{') this.#object(depth, isOnPath)
    else if (first === '[') this.#list(depth, isOnPath)
    else if (first === '"') this.#string()
    else if (!this.#take(/-?(?:0|[1-9]\d*)(?:\.\d+)?(?:[eE][+-]?\d+)?|true|false|null/y))
      this.#stop('a value')
  }

  #object(depth: number, isOnPath: boolean): void {
    this.#at++
    const keys = new Set<string>()
    this.#space()
    if (this.#text[this.#at] !== '}')
      for (;;) {
        this.#space()
        const start = this.#at
        if (this.#text[start] !== '"') this.#stop('a key in quotes')
        const key = this.#string()
        if (keys.has(key)) {
          this.#at = start
          this.#stop('each key once', `the key ${JSON.stringify(key)} is written twice`)
        }
        keys.add(key)
        this.#space()
        if (this.#text[this.#at] !== ':') this.#stop('":"')
        this.#at++
        this.#value(depth + 1, isOnPath && this.#path![depth] === key)
        this.#space()
        if (this.#text[this.#at] !== ',') break
        this.#at++
      }
    if (this.#text[this.#at] !== '}') this.#stop('"," or "}"')
    this.#at++
  }

  #list(depth: number, isOnPath: boolean): void {
    this.#at++
    this.#space()
    if (this.#text[this.#at] !== ']')
      for (let i = 0; ; i++) {
        this.#value(depth + 1, isOnPath && this.#path![depth] === i)
        this.#space()
        if (this.#text[this.#at] !== ',') break
        this.#at++
      }
    if (this.#text[this.#at] !== ']') this.#stop('"," or "]"')
    this.#at++
  }

  #string(): string {
    const start = this.#at
    this.#at++
    for (;;) {
      const c = this.#text[this.#at]
      if (c === undefined || c < ' ') this.#stop('the end of the text in quotes')
      this.#at++
      if (c === '"') break
      if (c === '\\' && !this.#take(/["\\/bfnrt]|u[0-9a-fA-F]{4}/y))
        this.#stop('a letter that may follow "\\"')
    }
    return JSON.parse(this.#text.slice(start, this.#at)) as string
  }

  #space(): void {
    this.#take(/[ \t\n\r]*/y)
  }

  #take(pattern: RegExp): boolean {
    pattern.lastIndex = this.#at
    if (!pattern.test(this.#text)) return false
    this.#at = pattern.lastIndex
    return true
  }

  #stop(expected: string, found?: string): never {
    const next = this.#text[this.#at]
    const what = next === undefined ? 'it ends here' : `${JSON.stringify(next)} is out of place`
    throw new Stopped({ at: this.#at, found: found ?? `is not JSON: ${what}`, expected })
  }
}
