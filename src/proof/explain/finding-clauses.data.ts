/** Which clauses a finding speaks of, and why the findings of a room matter where they speak of none. */
import type { ClauseId } from '../../standard/index.js'

/** One row a clause: the codes that speak of it, without those that may speak of any clause. */
const CODES: Readonly<Partial<Record<ClauseId, string>>> = {
  'one-half':
    'signal/half-bits timers/half timers/half-by-interrupt timers/one-outside timers/not-within-rating',
  'one-difference': 'signal/one-difference timers/same-halves timers/halves-by-interrupt',
  'zero-half': 'signal/half-bits timers/half timers/half-by-interrupt timers/zero-outside',
  'zero-total': 'signal/zero-total timers/zero-total',
  glitch: 'signal/glitches',
  'edge-rate': 'capture/slope capture/below-region track/edge-rate track/no-steady-state',
  'crossing-distortion': 'capture/crossing track/step-backwards track/long-bus',
  'track-voltage-max': 'capture/peak capture/rms capture/small-swing capture/one-rail track/voltage',
  'track-voltage-min':
    'capture/plateau capture/no-plateau capture/small-swing capture/one-rail track/voltage',
  'decoder-withstand': 'capture/peak track/lone-decoder',
  preamble: 'signal/preamble signal/no-preamble timers/preamble',
  'packet-length': 'signal/packet-length',
  'error-byte': 'signal/error-byte',
  framing: 'signal/framing',
  instruction: 'signal/instruction',
  'same-address-gap': 'signal/same-address-gap signal/repeats-close',
  'packet-interval': 'signal/packet-interval traffic/too-many-packets',
  refresh:
    'traffic/state-refreshed traffic/state-not-refreshed traffic/refresh-undecided signal/functions-sent-once traffic/run-too-short traffic/uncommanded traffic/no-command-pattern',
  'command-latency':
    'traffic/commands-heard traffic/command-late traffic/command-not-heard traffic/command-undone traffic/no-command-pattern traffic/no-commands bench/acted bench/acted-late bench/never-acted bench/never-moves',
  'stopping-distance':
    'track/train-too-long bench/stops-inside bench/stops-outside bench/stops-too-slow bench/no-stop bench/stop-place-unknown',
  'service-sequence':
    'signal/service-sequence signal/cv-sent-once traffic/service-command-seen traffic/service-command-missing bench/cv-not-written',
  'cutout-start':
    'signal/cutout signal/cutout-missing signal/cutout-held signal/cutout-undeclared signal/cutout-sometimes',
  'cutout-end': 'signal/cutout signal/cutout-missing signal/cutout-undeclared signal/cutout-sometimes',
  'short-trip':
    'power/short-trips power/short-stays power/short-cannot-trip power/short-unseen power/short-outlasted power/short-starves power/short-unrated power/protection-gap power/service-trips-late power/service-flows power/shared-enable power/single-fault power/faults-unprotected track/fault-unprotected bench/short-off bench/short-late bench/short-on-again bench/short-attempts bench/short-stays-on bench/power-stays-off bench/short-brief bench/short-without-power bench/power-back bench/silent-after-short run/short-not-tried run/trips-on-short run/trips-late run/never-trips run/does-not-stay-off run/attempts-too-hot run/short-too-brief proof/calculated-only',
  'short-current': 'power/short-stays track/fault-unprotected',
  'voltage-drop': 'track/voltage track/switched-off track/dead-stretch',
  'driver-current': 'power/driver-current power/driver-supply power/shared-driver bench/driver-overloaded',
  'driver-heat':
    'power/driver-heat power/short-pulse power/short-again bench/driver-withstands bench/driver-overheats bench/driver-unknown bench/driver-brief bench/light-load bench/plan-unknown',
  'supply-current':
    'power/supply-trips power/supply-overload power/shared-supply bench/supply-holds bench/supply-overloaded bench/supply-off bench/supply-brief bench/light-load bench/plan-unknown',
  'ack-detect':
    'power/ack-detect bench/cv-stored bench/cv-was-there bench/answered bench/answer-wrong run/acknowledgement-not-read run/acknowledgement-not-tried',
  polarity:
    'track/polarity-sound track/polarity-route track/turntable-polarity track/reverser-useless track/reversed-stretch-short track/reverser-beside track/reverser-shared track/reverser-unsure track/turntable-untold track/swapped-feeder track/in-position track/positions-left-out',
  'pin-conflict':
    'timers/pins-free timers/pins-in-conflict timers/pins-in-doubt timers/pin-used-twice timers/timer-used-twice timers/timer-taken timers/timer-reserved timers/pin-reserved pins/reset pins/oscillator pins/flash pins/boot-strap pins/boot-output pins/debug pins/package pins/module pins/usb pins/serial pins/programming pin-plan/shared pin-plan/reserved pin-plan/carries-signal',
  'pin-current': 'pins/weak-output',
  'conductor-heat': 'track/conductor-heat',
  'joint-heat': 'track/joint-heat track/no-joints track/switch-unrated track/terminator-heat',
  'sense-stress': 'power/sense-stress',
  fuse: 'power/fuse power/no-fuse',
  inrush: 'power/inrush bench/start-holds bench/trips-at-start',
  'gap-bridging':
    'track/no-gaps track/gap-harmless track/gap-frog track/gap-supplies track/gap-short track/gap-reverser track/gap-hand-switch track/gap-switching-apart track/gap-turntable track/gap-two-reversers track/opposed-gap',
  isolation: 'track/common-rail track/isolated track/feeds-joined track/dead-stretch',
  'dead-level': 'power/dead-level pin-plan/floats pins/boot-output',
  'logic-level': 'power/logic-level',
  interruption: 'signal/interruption signal/one-level signal/record-gap run/power-off-ignored',
  'start-up':
    'signal/start-up bench/still-after-restart bench/moves-after-restart bench/silent-after-restart bench/dark-after-restart bench/deaf-after-restart',
  'reset-guard': 'signal/reset-guard',
  'service-current': 'signal/service-current proof/no-current proof/current-not-judged',
  stack: 'firmware/stack-clear firmware/stack-overflow firmware/stack-heap firmware/stack-unknown',
  restart: 'firmware/no-restart firmware/restarted',
  'instruction-set': 'firmware/instructions-known firmware/instructions-illegal',
  interrupts: 'firmware/interrupts-served firmware/interrupts-lost simulate/interrupts-never-on',
  deadline:
    'firmware/deadline-kept firmware/deadline-missed firmware/held-up firmware/deadline-none timers/no-time-for-interrupt timers/miss-half-now timers/miss-bit-now timers/miss-half-next timers/miss-bit-next timers/miss-queue timers/miss-list timers/miss-pin',
  'shared-data': 'firmware/shared-safe firmware/shared-torn firmware/shared-bytes firmware/shared-open',
}

function byCode(): Record<string, ClauseId[]> {
  const clauses: Record<string, ClauseId[]> = {}
  for (const [clause, codes] of Object.entries(CODES))
    for (const code of codes.split(' ')) clauses[code] = [...(clauses[code] ?? []), clause as ClauseId]
  return clauses
}

export const FINDING_CLAUSES: Readonly<Record<string, readonly ClauseId[]>> = byCode()

/** Why it matters, by the room that says it. */
export const ROOM_REASONS: Readonly<Record<string, string>> = {
  bench: 'It tells what the firmware does when the railroad around it misbehaves, or why that was not tried.',
  capture:
    'What a probe cannot show is never counted as met, so the record decides how much a proof can say.',
  firmware: 'A program that fails rarely fails on the layout, with trains running.',
  meter: 'A reading decides only as much as its instrument and its place allow.',
  matrix:
    'Whoever builds from a design takes one of its variants, and should know what speaks for it and against it.',
  'pin-plan': 'A wire on the wrong pin is found here in a second, and on the bench in an evening.',
  pins: 'A pin with a second purpose can keep the board from starting or stop the signal.',
  power: 'Driver, supply and wiring turn mistakes into heat.',
  proof:
    'A clause without evidence never counts as met; this says what evidence is missing, or why it does not count.',
  run: 'What firmware does in a short is evidence only if it was tried.',
  signal: 'It is what decoders would see on the rails.',
  simulate:
    'Where the simulated controller differs from the real one, or the firmware did not get as far as its signal, its run shows less.',
  timers: 'The timer setting decides how much room the firmware has before an edge comes late.',
  starter: 'What the starter firmware leaves to the builder protects nothing until it is written.',
  start: 'A design that begins sound has nothing to mend before the first proof.',
  track: 'Where current and voltage end up depends on how the railroad is wired, position by position.',
  traffic: 'Every packet takes time on the track, so each more means that another waits.',
}
