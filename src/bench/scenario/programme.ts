/** A CV written and verified on the service track, with a decoder that acknowledges. */
import { recogniseAnswers } from '../../controller/index.js'
import type { Statement } from '../../standard/index.js'
import { BENCH_FINDINGS as SAYS } from '../findings.data.js'
import { CoupledRun } from '../station/coupled.js'
import type { BenchDistrict, BenchSetup } from '../station/setup.js'
import {
  evidence,
  FIRST_COMMAND_US,
  NO_LANGUAGE,
  notRun,
  resultOf,
  type ScenarioResult,
  type StandingOptions,
} from './parts.js'

/** A CV on the service track, and values that the decoder does not have before. */
const CV = 3
const VALUE = 12
const WRONG_VALUE = 13
/** From one service-mode command to the next, us: 20 packets of power-up, and the operation. */
const SERVICE_EVERY_US = 1.2e6

export function programme(
  setup: BenchSetup,
  district: BenchDistrict,
  options: StandingOptions,
): ScenarioResult {
  const name = `CV on ${district.name}`
  const { commands } = setup
  const decoder = setup.decoders.find((d) => d.district === district.name)
  if (!commands?.write || !decoder) return notRun(name, 'ack-detect', district.name, NO_LANGUAGE)
  const run = new CoupledRun(setup)
  let timeUs = FIRST_COMMAND_US
  if (commands.serviceOn) run.at(timeUs, () => void run.command({ kind: 'serviceOn' }, 'service track on'))
  const asked: { timeUs: number; says: string; wanted: 'acknowledged' | 'unanswered' }[] = []
  const ask = (kind: 'write' | 'verify', value: number, wanted: 'acknowledged' | 'unanswered') => {
    timeUs += SERVICE_EVERY_US
    const says = `${kind} CV${CV} = ${value}`
    run.at(timeUs, () => void run.command({ kind, cv: CV, value }, says))
    if (commands[kind]) asked.push({ timeUs, says, wanted })
  }
  ask('write', VALUE, 'acknowledged')
  ask('verify', VALUE, 'acknowledged')
  ask('verify', WRONG_VALUE, 'unanswered')
  run.runTo(timeUs + SERVICE_EVERY_US)
  const statements: Statement[] = []
  const found = run.decoder(decoder.name)!.cvs.get(CV)
  const answers = recogniseAnswers(run.answers, commands)
  const answerTo = (i: number) => {
    const [from, to] = [asked[i]!.timeUs, asked[i + 1]?.timeUs ?? Number.POSITIVE_INFINITY]
    return answers.find((a) => a.timeUs >= from && a.timeUs < to)?.answer
  }
  const wrong = asked.findIndex((a, i) => commands[a.wanted] && answerTo(i) !== a.wanted)
  const share = { low: 0, high: 0, unit: 'share' }
  if (found !== VALUE) {
    const finding = SAYS.find('cv-not-written', { cv: CV, value: VALUE, found })
    const broken = { low: 1, high: 1, unit: 'operations' }
    statements.push(
      evidence('service-sequence', district.output, 'broken', broken, finding, options, asked[0]!.timeUs),
    )
  }
  if (wrong >= 0) {
    const { says, wanted, timeUs: atUs } = asked[wrong]!
    const said = answerTo(wrong)
    const finding = SAYS.find('answer-wrong', {
      command: says,
      wanted: `"${wanted}"`,
      found: said === undefined ? 'nothing' : `"${said}"`,
    })
    statements.push(
      evidence('ack-detect', district.name, 'broken', { ...share, high: 1 }, finding, options, atUs),
    )
  } else if (!commands.acknowledged || !commands.unanswered || !commands.verify) {
    // One answer that is always the same would be right for one kind of question.
    const why = commands.verify
      ? 'the design does not say what the firmware answers'
      : 'the design does not say how a CV is verified, so that silence was never due'
    statements.push(...notRun(name, 'ack-detect', district.name, why).statements)
  } else if (found === VALUE) {
    const finding = SAYS.find('service-works', {
      write: `CV${CV} = ${VALUE} is written`,
      answers: asked.length,
    })
    statements.push(evidence('ack-detect', district.name, 'met', share, finding, options))
  }
  return resultOf(name, run, statements)
}
