/** A CV on the service track: stored, verified, verified with a wrong value, and asked of a track without a decoder. */
import type { BenchDistrict } from '../../station/setup.js'
import { onService } from '../check.js'
import { FIRST_COMMAND_US, type Frame, NO_LANGUAGE, type Playable } from './frame.js'

/** A CV, and values that the decoder does not have before. */
const CV = 3
const VALUE = 12
const WRONG_VALUE = 13
/** From one service-mode command to the next, us: 20 packets of power-up, and the operation. */
const SERVICE_EVERY_US = 1.2e6

export function programme(f: Frame, district: BenchDistrict): Playable {
  const name = `CV on ${district.name}`
  const shows = { clause: 'ack-detect', about: district.name } as const
  const { commands } = f.setup
  const decoder = onService(f.setup)
  if (!commands?.write || !decoder) return f.missing(shows, name, NO_LANGUAGE)
  // One answer that is always the same would be right for one kind of question.
  if (!commands.verify)
    return f.missing(
      shows,
      name,
      'the design does not say how a CV is verified, so that silence is never due',
    )
  if (!commands.acknowledged || !commands.unanswered)
    return f.missing(shows, name, 'the design does not say what the firmware answers')
  const at = (i: number) => FIRST_COMMAND_US + i * SERVICE_EVERY_US
  const wanted = [
    [`write CV${CV} = ${VALUE}`, 'acknowledged'],
    [`verify CV${CV} = ${VALUE}`, 'acknowledged'],
    [`verify CV${CV} = ${WRONG_VALUE}`, 'unanswered'],
    // A program that answers from memory, or any write with yes, is right until here.
    ['write without a decoder', 'unanswered'],
    ['verify without a decoder', 'unanswered'],
  ] as const
  const name1 = (i: number) => ({ name: wanted[i]![0], at: at(i + 1) })
  return f.make(
    shows,
    name,
    at(6),
    [
      ...(commands.serviceOn ? [{ at: FIRST_COMMAND_US, service: 'on' as const }] : []),
      { ...name1(0), write: { cv: CV, value: VALUE } },
      { ...name1(1), verify: { cv: CV, value: VALUE } },
      { ...name1(2), verify: { cv: CV, value: WRONG_VALUE } },
      { at: at(4) - SERVICE_EVERY_US / 4, remove: decoder.name },
      { ...name1(3), write: { cv: CV, value: WRONG_VALUE } },
      { ...name1(4), verify: { cv: CV, value: WRONG_VALUE } },
    ],
    [
      { cv: { cv: CV, value: VALUE } },
      ...wanted.map(([to, is]) => ({ answer: { to, is, within: SERVICE_EVERY_US } })),
      { signal: true },
    ],
  )
}
