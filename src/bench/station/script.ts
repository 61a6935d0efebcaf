/** A controlling script at the other end of the serial line, as a computer beside the station would run one. */
import type { CoupledRun } from './coupled.js'

/** What a script can do. */
export interface ScriptLine {
  /** Since power-up, ms. */
  readonly nowMs: number
  say(text: string): void
}

export interface ControlScript {
  /** The station has said a line, without its end. */
  line?(text: string, io: ScriptLine): void
  /** Called every so often. */
  tick?(io: ScriptLine): void
}

export interface Spoken {
  timeUs: number
  text: string
}

/** How often a script looks at its line, us: as often as a computer's serial driver hands bytes on. */
const TICK_US = 10e3
const LONGEST_LINE = 1000

/**
 * Let a script run beside a station. Attach it before the run begins.
 * @returns what it says, in the order of time; the list grows as the run goes on
 */
export function attachScript(run: CoupledRun, script: ControlScript): Spoken[] {
  const spoken: Spoken[] = []
  const io: ScriptLine = {
    get nowMs() {
      return run.nowUs / 1000
    },
    say(text) {
      spoken.push({ timeUs: run.nowUs, text: text.trimEnd() })
      run.do({ act: 'say', text })
    },
  }
  let read = 0
  let line = ''
  const tick = (timeUs: number) =>
    run.at(timeUs, () => {
      for (; read < run.answers.length; read++) {
        const c = String.fromCharCode(run.answers[read]!.value)
        if (c !== '\n') line = (line + c).slice(-LONGEST_LINE)
        else {
          script.line?.(line.trimEnd(), io)
          line = ''
        }
      }
      script.tick?.(io)
      tick(timeUs + TICK_US)
    })
  tick(TICK_US)
  return spoken
}
