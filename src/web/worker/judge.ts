/** From the design's text to its problems or its proof: always for the newest text, first without what is slow. */
import { CHIPS, isSimulated } from '../../controller/index.js'
import { DesignError, type LoadedDesign, type Problem } from '../../design/index.js'
import {
  type CalculationMemory,
  dependsOn,
  evidenceOfDesign,
  type Pace,
  PROOF_FINDINGS,
  type Proof,
  proofOfDesign,
} from '../../proof/index.js'
import type { DesignFacts, DeskCalls, Judged } from './calls.js'
import { sha256Of } from './hash.js'
import { loadOnce } from './loaded.js'
import { type Salvaged, salvage } from './salvage.js'

/** A page that is not in sight draws nothing, and so says nothing. */
const MOST_WAITED_MS = 100

/** Answers for one page: what was calculated before, and the last proof that there was. */
export class Judge {
  readonly #memory: CalculationMemory = new Map()
  readonly #version: string
  #last: Proof | undefined

  /** The last text without problems. */
  #sound: string | undefined
  /** Ends the wait between an early answer and the rest. */
  #goOn: (() => void) | undefined

  /** @param version of the program, for the proof. */
  constructor(version: string) {
    this.#version = version
  }

  /** @param early gets the answers before the last, where something is left out of them. */
  judge(takes: DeskCalls['judge']['takes'], early: (judged: Judged) => void): Promise<Judged> {
    // At first everything is to be calculated: what needs next to nothing comes before the rest.
    return this.#judge(takes, this.#memory.size === 0 ? ['at once', 'soon', 'slow'] : ['soon', 'slow'], early)
  }

  /** The page has drawn the early answer, and asked what it has to ask. */
  drawn(): void {
    this.#goOn?.()
  }

  async #judge(
    takes: DeskCalls['judge']['takes'],
    [pace, ...later]: readonly [Pace, ...Pace[]],
    early: (judged: Judged) => void,
  ): Promise<Judged> {
    const { text, file, runs, firmware } = takes
    const started = performance.now()
    const took = () => performance.now() - started
    let loaded: LoadedDesign
    let problems: Problem[] = []
    let partial: Salvaged | undefined
    try {
      loaded = loadOnce(text, file)
      this.#sound = text
    } catch (error) {
      if (!(error instanceof DesignError)) throw error
      problems = error.problems
      partial = salvage(text, this.#sound)
      if (!partial) return { ...this.#ofBefore(problems), tookMs: took() }
      loaded = loadOnce(partial.text, file)
    }
    const calculated = evidenceOfDesign(
      loaded,
      { file, sha256: await textSum(partial?.text ?? text) },
      { memory: this.#memory, pace, faults: 'tell' },
    )
    const { complete, fault } = calculated
    const made = proofOfDesign(loaded, {
      calculated,
      runs,
      firmware,
      version: this.#version,
      require: loaded.design.require ?? [],
    })
    if (!partial) this.#last = made
    const judged: Judged = {
      problems,
      proof: partial ? { ...made, stale: { since: [partlyOf(problems, partial)] } } : made,
      ...(partial ? { partial } : {}),
      facts: factsOf(loaded),
      ...(fault ? { fault: fault.sentence } : {}),
      complete,
      tookMs: took(),
    }
    const [next, ...last] = later
    if (complete || next === undefined) return judged
    early(judged)
    // Lets what the view in sight asks come first, which it does when it has drawn the answer.
    await new Promise<void>((done) => {
      this.#goOn = done
      setTimeout(done, MOST_WAITED_MS)
    })
    return this.#judge(takes, [next, ...last], early)
  }

  /** The last proof that there was, marked as that of the text before. */
  #ofBefore(problems: Problem[]): Omit<Judged, 'tookMs'> {
    const since = PROOF_FINDINGS.find('text-has-problems', {
      problems: problems.length,
      first: firstOf(problems),
    })
    return { problems, ...(this.#last ? { proof: { ...this.#last, stale: { since: [since] } } } : {}) }
  }
}

const firstOf = ([first]: readonly Problem[]) => (first ? `line ${first.line}: ${first.message}` : '')

function partlyOf(problems: readonly Problem[], { before, without }: Salvaged) {
  return PROOF_FINDINGS.find('text-partly-valid', {
    problems: problems.length,
    first: firstOf(problems),
    before: before.join(', '),
    without: without.join(', '),
  })
}

/** The proof, marked as stale where it is not of this text. */
export async function markedFor(proof: Proof, text: string): Promise<Proof> {
  const own = proof.about.inputs.find((input) => input.role === 'design')?.sha256
  if (proof.stale || own === (await textSum(text))) return proof
  return { ...proof, stale: { since: [PROOF_FINDINGS.find('text-changed', {})] } }
}

const sums = new Map<string, string>()

export async function textSum(text: string): Promise<string> {
  const sum = sums.get(text) ?? (await sha256Of(text))
  if (sums.size > 20) sums.clear()
  sums.set(text, sum)
  return sum
}

function factsOf({ design, variants }: LoadedDesign): DesignFacts {
  const { controller, signal, firmware } = design
  return {
    name: design.name,
    chip: controller.chip,
    chipName: CHIPS[controller.chip].name,
    pins: [...CHIPS[controller.chip].pins],
    clockHz: controller.clock.frequency,
    simulated: isSimulated(controller.chip),
    outputs: Object.entries(signal.outputs).map(([name, { pin, inverted, mode, cutout }]) => {
      return { name, pin, inverted, mode, cutout }
    }),
    ...(firmware
      ? {
          firmware: {
            file: firmware.file,
            stimulus: firmware.stimulus,
            runForUs: firmware.runFor,
            skipUs: firmware.skip ?? 0,
          },
        }
      : {}),
    captures: (design.captures ?? []).map(({ file, output, build }) => ({ file, output, build })),
    variants: variants.map((v) => v.name),
    dependsOn: { run: dependsOn(design, 'run'), capture: dependsOn(design, 'capture') },
    parts: Object.keys(design),
  }
}
