/**
 * What a room has to say beside figures: a code with parameters. The sentence for people is made from them in one
 * place, the room's table of findings, so that no face parses prose and every face says the same.
 */

export type Parameter = string | number | boolean | undefined | readonly (string | number)[]
export type Parameters = Readonly<Record<string, Parameter>>

export interface Finding {
  /** `signal/late-half`: the room, then what was found. Codes are stable, sentences are not. */
  code: string
  params: Parameters
  /** For people, made from code and parameters; ends without a full stop. */
  sentence: string
}

/** What a code means, how it is said, and what to do about it. */
export interface Meaning<P extends Parameters = never> {
  /** One sentence: what the code tells, whatever its parameters are. */
  means: string
  /** One sentence: what to do about it; absent where nothing needs doing. */
  remedy?: string
  says(params: P): string
}

// `any`: a table's rows take different parameters, each checked where it is used.
// biome-ignore lint/suspicious/noExplicitAny: see above
export type Meanings = Readonly<Record<string, Meaning<any>>>

type ParametersOf<M> = M extends { says(params: infer P): string } ? P : never

export interface FindingTable<T extends Meanings = Meanings> {
  room: string
  meanings: T
  /** Make a finding of one of the table's codes. */
  find<C extends keyof T & string>(code: C, params: ParametersOf<T[C]>): Finding
}

/** A room's findings; `proof/` joins the tables of all rooms into one list for documents and JSON. */
export function findingTable<T extends Meanings>(room: string, meanings: T): FindingTable<T> {
  return {
    room,
    meanings,
    find(code, params) {
      const meaning = meanings[code]!
      return {
        code: `${room}/${code}`,
        params: params as Parameters,
        sentence: meaning.says(params as never),
      }
    },
  }
}
