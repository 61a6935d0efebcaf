/** Whether one profile and edition defines a packet in this form, and how that is known. */
import { decodePacket, type PacketOptions, sourceOfPacket } from '../packet/index.js'
import {
  PROFILES,
  type Profile,
  type ProfileId,
  profileOf,
  signalLimitsOf,
  type Verdict,
} from '../standard/index.js'
import { InputError, nearest } from '../units/index.js'
import type { Arguments } from './command.js'

export interface PacketForm {
  profile: string
  edition: string
  verdict: Exclude<Verdict, 'not shown'>
  says: string
  /** Where the packet is defined; absent when nowhere. */
  source?: string
}

/** @returns the profile that `--profile` and `--edition` name; undefined when neither is given. */
export function packetProfile(args: Arguments): Profile | undefined {
  const [id, edition] = [args.text('profile'), args.text('edition')]
  if (id === undefined && edition === undefined) return undefined
  const profile = choice('profile', id ?? 'nmra', Object.keys(PROFILES)) as ProfileId
  const editions = Object.keys(PROFILES[profile].editions)
  return profileOf({
    profile,
    scale: 'H0',
    cutout: false,
    ...(edition === undefined ? {} : { edition: choice('edition', edition, editions) }),
  })
}

function choice(name: string, text: string, choices: readonly string[]): string {
  if (choices.includes(text)) return text
  const close = nearest(text, choices)
  throw new InputError(
    `--${name} ${text}; expected one of ${choices.join(', ')}${close ? `; the nearest is ${close}` : ''}`,
  )
}

/** As a capture is judged by the clauses `packet-length`, `error-byte` and `instruction`. */
export function packetForm(bytes: readonly number[], profile: Profile, options: PacketOptions): PacketForm {
  const { packet, findings } = decodePacket(bytes, options)
  const { packetBytes, longPackets, knowsLongerForms } = signalLimitsOf(profile)
  const from = packet && sourceOfPacket(packet)
  const about = {
    profile: profile.profile,
    edition: profile.edition,
    ...(from ? { source: `${from.says} (${from.status})` } : {}),
  }
  const fault = findings.find((f) => f.kind !== 'note')
  if (fault) return { ...about, verdict: 'broken', says: fault.says }
  const first = bytes[0]!
  const mayBeLong = knowsLongerForms || (first >= longPackets.first && first <= longPackets.last)
  if (bytes.length > packetBytes.max && !mayBeLong) {
    const { min, max } = packetBytes
    return { ...about, verdict: 'broken', says: `${bytes.length} bytes; this edition has ${min} to ${max}` }
  }
  if (from?.status === 'from memory' && profile.profile === 'nmra')
    return {
      ...about,
      verdict: 'undecided',
      says: 'the texts of this edition do not have it, or were not seen',
    }
  if (from?.status === 'from memory')
    return { ...about, verdict: 'met', says: 'defined, as far as is known from memory' }
  return { ...about, verdict: 'met', says: from?.status === 'draft' ? 'framed as the draft says' : 'defined' }
}
