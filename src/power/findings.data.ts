/** What the power stage has to say, as codes with parameters. */
import { findingTable } from '../finding/index.js'
import { capital, formatNumber, formatShare, formatSi, formatTimeUs } from '../units/index.js'
import { type StillProtected, stillHolds } from './faults/words.js'
import { FUSE_KINDS, type FuseKind, fuseLoadShare } from './fuse-kinds.data.js'
import { amp, SUPPLY_SAYS, span } from './supply-says.data.js'

const volt = (value: number) => `${formatNumber(value, 3)} V`
const watt = (value: number) => formatSi(value, 'W', 3)
const n = (value: number) => formatNumber(value, 3)
const time = (us: number) => (Number.isFinite(us) ? formatTimeUs(us, 3) : 'never')

const FUSE_SOURCE = {
  glass: 'IEC 60127-2 for glass, from memory',
  resettable: 'catalogues of polymer PTCs, from memory',
} as const

const HELD = {
  supply: 'maximum limited by the supply',
  driver: 'maximum limited by the driver itself',
  resistance: 'maximum limited only by resistance',
} as const

type StaysOn = Record<'leastAmp' | 'mostAmp', number> & { heldBy: keyof typeof HELD } & Record<
    'band' | 'because',
    string
  >

const staysOn = (p: StaysOn) =>
  `short at the terminals ${span(p.leastAmp, p.mostAmp)} (${HELD[p.heldBy]}) is not sure to trip: ${p.because}; the trip current is ${p.band}`

export const POWER_FINDINGS = findingTable('power', {
  ...SUPPLY_SAYS,
  'short-trips': {
    means:
      'What a short at the terminals draws, how soon it is off, and how long driver and wire survive it.',
    remedy:
      'Let it trip sooner, use a supply that gives less into a short, cool the driver better, or use a driver and wires that survive it for longer.',
    says: (p: {
      leastAmp: number
      mostAmp: number
      heldBy: keyof typeof HELD
      offUs: number
      allowedUs: number
      because: string
    }) =>
      `short at the terminals ${span(p.leastAmp, p.mostAmp)} (${HELD[p.heldBy]}) is off after ${time(p.offUs)} at the latest; ${
        Number.isFinite(p.allowedUs)
          ? `${time(p.allowedUs)} allowed: ${p.because}`
          : 'driver and wire can carry it indefinitely'
      }`,
  },
  'short-stays': {
    means: 'A short at the terminals may never trip.',
    remedy: 'Lower the trip current, or use a supply that is sure to give more.',
    says: staysOn,
  },
  'short-cannot-trip': {
    means:
      'What is to trip in a short cannot: nothing of it switches the driver off, or its sense never sees it.',
    remedy:
      'Let a breaker trip, with another driver where its own limit lies below that; or firmware, over an input that switches the driver off and a current sense that sees both polarities.',
    says: staysOn,
  },
  'short-unseen': {
    means:
      'The amplifier or sensor before the converter may end below the voltage at which the district is to trip.',
    remedy:
      'Give the highest output of the amplifier or sensor, take one that reaches its supply, or lower the trip current or the gain.',
    says: staysOn,
  },
  'short-outlasted': {
    means: 'The supply or the driver shuts down before the trip acts, and may retry again and again.',
    remedy:
      'Trip before the supply or driver shuts down, enter their times, or keep the current below the limit of the driver.',
    says: (p: {
      leastAmp: number
      mostAmp: number
      who: 'supply' | 'driver'
      lastsUs: number
      offUs: number
    }) =>
      `short at the terminals ${span(p.leastAmp, p.mostAmp)} needs ${time(p.offUs)} to trip, but the ${p.who === 'driver' ? 'driver may switch off at its own limit' : 'supply may switch off'} after ${time(p.lastsUs)} and retry, so that it never trips`,
  },
  'short-starves': {
    means:
      'A short pulls down the supply that also feeds the controller, so the firmware may stop before it trips.',
    remedy:
      'Give the controller a supply of its own, or a capacitor behind a diode before its regulator; or let a breaker trip.',
    says: (p: { leastAmp: number; mostAmp: number; lastsUs: number; offUs: number }) =>
      `short at the terminals ${span(p.leastAmp, p.mostAmp)} pulls down the supply that also feeds the controller: the firmware needs ${time(p.offUs)} to trip, and may stop ${p.lastsUs > 0 ? `after ${time(p.lastsUs)}` : 'at once'}`,
  },
  'short-pulse': {
    means:
      'In a short, the output capacitors of the supply discharge through the driver, which does not limit their current.',
    remedy: 'Use a driver that limits its current, enter the supply’s output capacitance, or reduce it.',
    says: (p: { leastAmp: number; mostAmp: number; because: string }) =>
      `short at the terminals ${span(p.leastAmp, p.mostAmp)}; ${p.because}`,
  },
  'short-again': {
    means: 'A trip that closes again into a lasting short: the mean heat of all its attempts.',
    remedy: 'Let it trip sooner, wait longer before it closes again, or stay off.',
    says: (p: {
      amp: number
      onUs: number
      againUs: number
      rmsAmp: number
      what: 'flows' | 'driver' | 'wire' | 'joint' | 'shunt' | 'pulse'
      figure: string
    }) =>
      `into a lasting short it closes again after ${time(p.againUs)}: ${amp(p.amp)} for ${time(p.onUs)} each time heat like ${amp(p.rmsAmp)} continuously; ${
        {
          flows: 'no more than can flow below the trip current anyway',
          driver: `the driver junction reaches ${p.figure}`,
          joint: `the weakest joiner or connector carries ${p.figure} continuously`,
          shunt: `the shunt is rated for ${p.figure}`,
          wire: `the thinnest wire carries ${p.figure} continuously`,
          pulse: `hot from those attempts, the driver survives ${p.figure}`,
        }[p.what]
      }`,
  },
  'short-unrated': {
    means: 'A short trips, but it is not known how long driver and wire survive it.',
    remedy: 'Enter the missing figures.',
    says: (p: { mostAmp: number; offUs: number; because: string }) =>
      `short at the terminals ${amp(p.mostAmp)} trips after ${time(p.offUs)} at the latest; ${p.because}`,
  },
  'service-trips-late': {
    means:
      'A service track may carry more than its limit only for a short time (S-9.2.3:2012 B), and its trip takes longer.',
    remedy: 'Use fewer samples or a shorter delay, or a supply that gives no more than the limit.',
    says: (p: { mostAmp: number; offUs: number; limitUs: number; limitAmp: number }) =>
      `short on the service track ${amp(p.mostAmp)} ${Number.isFinite(p.offUs) ? `trips after ${time(p.offUs)} at the latest` : 'may never trip'}; more than ${amp(p.limitAmp)} may flow there for no longer than ${time(p.limitUs)}`,
  },
  'service-flows': {
    means:
      'More than a service track may carry (S-9.2.3:2012 B) can flow there below its trip, for as long as nobody sees it.',
    remedy: 'Set its trip so low that it lies below the limit with all of its tolerance.',
    says: (p: { mostAmp: number; limitUs: number; limitAmp: number }) =>
      `up to ${amp(p.mostAmp)} can flow on the service track and not trip; more than ${amp(p.limitAmp)} may flow there for no longer than ${time(p.limitUs)}`,
  },
  'single-fault': {
    means:
      'One fault of the power stage: what ends a short then, and whether wires, driver and shunt survive it. A possible fault breaks no clause.',
    remedy: 'Add a fuse or a supply with a lower limit, which need neither firmware nor driver to act.',
    says: (p: StillProtected & { fault: string }) => `${p.fault}: ${stillHolds(p)}`,
  },
  'faults-unprotected': {
    means: 'Single faults of the power stage that leave a short without sure protection.',
    remedy: 'Add a fuse or a supply with a lower limit, which need neither firmware nor driver to act.',
    says: (p: { faults: number; of: number; unsure: number; worst: string }) =>
      `With ${p.faults || p.unsure} of ${p.of} single faults of the power stage, protection ${p.faults > 0 ? 'does' : 'may'} not hold. ${(p.faults || p.unsure) > 1 ? `The worst: ${p.worst}` : capital(p.worst)}.`,
  },
  'protection-gap': {
    means: 'Currents that harm a part before trip, fuse or supply ends them.',
    remedy: 'Lower the trip current, trip faster, or use a part with a higher rating.',
    says: (p: { what: string; fromAmp: number; toAmp: number; endsUs: number; survivesUs: number }) =>
      `nothing protects ${p.what} from ${amp(p.fromAmp)} to ${amp(p.toAmp)}: it ${p.survivesUs > 0 ? `survives ${time(p.survivesUs)}` : 'does not survive that at all'}, and the current ${Number.isFinite(p.endsUs) ? `ends after ${time(p.endsUs)} at the latest` : 'may never end'}`,
  },
  'driver-heat': {
    means: 'The junction temperature of a driver at the highest current that can flow continuously.',
    remedy: 'Cool it better, lower the trip current, or use parallel channels.',
    says: (p: {
      part: string
      flows: string
      watt: number
      parts: string
      thermal: number
      ambientC: number
      lowC: number
      highC: number
      maxC: number
      without: string
    }) =>
      Number.isFinite(p.highC)
        ? `${p.part} with ${p.flows} continuously: ${n(p.watt)} W (${p.parts}) · ${n(p.thermal)} K/W above ${n(p.ambientC)} °C make ${n(p.highC)} °C; limit ${n(p.maxC)} °C${p.without}`
        : `${p.part} with ${p.flows} continuously at ${n(p.thermal)} K/W runs away: each kelvin adds more heat than the cooling removes`,
  },
  'driver-unrated': {
    means:
      'Neither the continuous nor the peak current of a driver is known, and it has no limit of its own.',
    remedy: 'Give its continuous and its peak current from its data sheet.',
    says: (p: { part: string }) => `neither the continuous nor the peak current of ${p.part} is known`,
  },
  'driver-supply': {
    means: 'The voltage that a driver gets, without load and at the worst one, against what it takes.',
    remedy: 'Use a supply of another voltage, a shorter or thicker cable to it, or another driver.',
    says: (p: { part: string; because: string }) => `${p.part}, ${p.because}`,
  },
  'driver-current': {
    means: 'The share of its rating that a driver uses at the highest current that can flow continuously.',
    remedy: 'Lower the trip current, or use a stronger driver.',
    says: (p: { part: string; because: string }) => `${p.part}, ${p.because}`,
  },
  'sense-stress': {
    means: 'What a short does to the shunt, the amplifier and the converter pin.',
    remedy: 'Use a shunt of lower resistance or higher power rating, or a resistor in series with the pin.',
    says: (p: {
      amp: number
      what: 'pin' | 'clamp' | 'input' | 'pulse' | 'power'
      pinVolt: number
      pinMaxVolt: number
      inputVolt: number
      inputMaxVolt: number
      pulseWatt: number
      sustainedWatt: number
      ratedWatt: number
    }) =>
      ({
        pin: `a short of ${amp(p.amp)} puts ${volt(p.pinVolt)} on the converter pin, which withstands ${volt(p.pinMaxVolt)}`,
        clamp: `a short of ${amp(p.amp)} drives ${volt(p.pinVolt)} through the series resistor into the pin's clamp, which carries 1 mA`,
        input: `a short of ${amp(p.amp)} puts ${volt(p.inputVolt)} on the input of the amplifier, which withstands ${Number.isFinite(p.inputMaxVolt) ? volt(p.inputMaxVolt) : 'an unknown voltage'}`,
        pulse: `a short of ${amp(p.amp)} makes ${watt(p.pulseWatt)} in the shunt, rated ${watt(p.ratedWatt)}; it survives 6.25 times that for 5 s (IEC 60115-1, from memory)`,
        power: `the continuous current makes ${watt(p.sustainedWatt)} in the shunt, rated ${watt(p.ratedWatt)}`,
      })[p.what],
  },
  fuse: {
    means: 'Whether a fuse carries the load, opens in a short, and can interrupt its current.',
    remedy: 'Choose the rating by load, wires and supply together, and a kind that can interrupt the short.',
    says: (p: {
      ratingAmp: number
      kind: FuseKind
      what: 'load' | 'supply load' | 'opens' | 'wire' | 'unknown wire' | 'breaks' | 'volt' | 'limited'
      holds: boolean
      amp: number
      opensS: number
      breaksAmp: number
      breaksVolt: number
      supplyVolt: number
      loadAmp: number
      supply: string
      supplyFuseAmp: number
      supplyKind: FuseKind
      supplyWorstAmp: number
      airC: number
    }) =>
      `${p.kind === 'resettable' ? 'resettable fuse' : 'fuse'} of ${amp(p.ratingAmp)}: ${
        {
          load: `the worst load is ${amp(p.loadAmp)}; in air of up to ${n(Math.max(60, p.airC))} °C it carries ${n(100 * fuseLoadShare(p.kind, p.airC))} % of its rating continuously`,
          'supply load': `the fuse of supply ${p.supply}, ${amp(p.supplyFuseAmp)}, must carry ${amp(p.supplyWorstAmp)} at the worst load; in air of up to ${n(Math.max(60, p.airC))} °C it carries ${n(100 * fuseLoadShare(p.supplyKind, p.airC))} % of its rating continuously`,
          opens: `a short of ${amp(p.amp)} may not open it, which takes ${n(FUSE_KINDS[p.kind].opensAt)} times its rating (${FUSE_SOURCE[p.kind]}), and no wire is known to carry that continuously`,
          wire: `a short of ${amp(p.amp)} opens it after ${time(p.opensS * 1e6)} at the latest; the thinnest wire survives ${p.holds ? 'longer' : 'less than that'}`,
          'unknown wire': `a short of ${amp(p.amp)} opens it after ${time(p.opensS * 1e6)} at the latest, but the design describes no wire that would have to survive it`,
          breaks: `it can interrupt ${amp(p.breaksAmp)} (${FUSE_SOURCE[p.kind]}, unless given), a short draws ${amp(p.amp)}`,
          volt: `it must interrupt ${volt(p.supplyVolt)}, and some are rated for only ${volt(p.breaksVolt)}; its data sheet decides it`,
          limited: `it need not open: the wires carry the ${amp(p.amp)} of a short continuously`,
        }[p.what]
      }`,
  },
  'no-fuse': {
    means: 'A supply that does not limit its current feeds a district without any fuse.',
    remedy: 'Fuse the district at the supply end of its wires.',
    says: (p: { supply: string }) =>
      `neither the district nor supply ${p.supply}, which does not limit its current, has a fuse: if the trip or the driver fails, nothing ends a short`,
  },
  inrush: {
    means: 'The current at power-up and after every trip, compared with driver, trip and supply.',
    remedy:
      'Switch districts on one after another, fit larger charging resistors, or use a supply that limits its current.',
    says: (p: {
      peakAmp: number
      lastsUs: number
      decoders: number
      together: string[]
      what: 'nothing' | 'peak' | 'heat' | 'trips' | 'own limit' | 'supply' | 'fuse'
      tripsAtUs: number
      junctionC: number
      supply: string
    }) =>
      `all capacitors charging at once, the 47 uF of each of ${p.decoders} ${p.decoders === 1 ? 'decoder' : 'decoders'} among them (assumed)${p.together.length > 0 ? `, and those of ${p.together.join(' and ')} on the same supply` : ''}, draw up to ${amp(p.peakAmp)}${Number.isFinite(p.lastsUs) ? ` for ${time(p.lastsUs)}` : ' and may never be full'}; ${
        {
          nothing: 'nothing is overloaded',
          peak: "against the driver's peak current",
          heat: `against the driver's heat: ${Number.isFinite(p.junctionC) ? `${n(p.junctionC)} °C` : 'it runs away'}`,
          trips: Number.isFinite(p.tripsAtUs)
            ? `it trips after ${time(p.tripsAtUs)}`
            : 'against the trip, which it does not reach in time',
          'own limit': "against the driver's own limit, where it may switch off or charge in steps",
          supply: p.supply,
          fuse: 'against what the fuse survives',
        }[p.what]
      }`,
  },
  'ack-detect': {
    means:
      'The chances of missing an acknowledgement and of seeing a false one, at the worse end of the gain.',
    remedy: 'Move the threshold, or use a more accurate reference and shunt.',
    says: (p: {
      proposed: boolean
      samples: number
      of: number
      thresholdAmp: number
      rate: number
      miss: string
      wrong: string
      gain: number
      method: string
      limit: string
    }) =>
      `${p.proposed ? 'proposed rule' : 'rule'} ${p.samples} of ${p.of} samples above ${amp(p.thresholdAmp)} at ${formatNumber(p.rate)} /s, with a gain of ± ${formatShare(p.gain)}: misses ${p.miss}, false ${p.wrong} per operation (${p.method}; at most ${p.limit}, common practice)`,
  },
  'dead-level': {
    means: 'What the rails carry while the controller is in reset, booting or being flashed.',
    remedy: 'Hold the enable input off with a pull resistor on the board.',
    says: (p: { driver: string; rails: 'off' | 'dc' | 'open' | 'short'; because: string }) =>
      `driver ${p.driver} ${
        {
          off: 'puts nothing on the rails while the controller is dead',
          dc: 'puts direct current on the rails while the controller is dead, and decoders that may run on it (CV 29, bit 2) can run away',
          short: 'shorts its supply while the controller is dead',
          open: 'may put direct current on the rails while the controller is dead',
        }[p.rails]
      }: ${p.because}`,
  },
  'logic-level': {
    means: "The controller's output levels against the thresholds of a driver's input.",
    remedy: 'Fit a level shifter, or run both on the same logic voltage.',
    says: (p: { because: string }) => p.because,
  },
  change: {
    means: 'A change of one key of the design file.',
    says: (p: { key: string; from: string; to: string | number; beside?: string }) =>
      `set ${p.key} to ${p.to} (now ${p.from})${p.beside ?? ''}`,
  },
  'other-part': {
    means: 'A different driver in place of one that does not survive its load or a short.',
    remedy: 'Wire its inputs as its data sheet says.',
    says: (p: {
      driver: string
      part: string
      about: string
      from: string
      packages: number
      bridges: number
      channels: number
    }) =>
      `use ${p.packages === 1 ? `one ${p.part}` : `${p.packages} packages of ${p.part}`} (${p.about}) as driver ${p.driver} in place of the ${p.from}, wired as its data sheet says${p.packages === 1 && p.bridges > p.channels ? `; ${p.channels} of the ${p.bridges} bridges in it ${p.channels === 1 ? 'is' : 'are'} used` : ''}`,
  },
  'both-changes': {
    means: 'Two changes that only help together.',
    says: (p: { one: string; other: string }) => `${p.one}, and ${p.other}`,
  },
  'other-supply': {
    means: 'A supply with a current limit in place of one that may give more.',
    says: (p: { supply: string; ratingAmp: number; limitAmp: number }) =>
      `use a supply ${p.supply} of ${amp(p.ratingAmp)} that limits its current to ${amp(p.limitAmp)}`,
  },
  'fuse-stays': {
    means: "A district's supply gives too little current to blow its fuse in useful time.",
    says: (p: { district: string; fuseAmp: number; capableAmp: number; opensAt: number }) =>
      `District ${p.district}: the supply's ${amp(p.capableAmp)} do not open a fuse of ${amp(p.fuseAmp)} in useful time (that takes about ${n(p.opensAt)} times its rating); only the trip ends a short there.`,
  },
  'load-trips': {
    means: 'The worst load of a district lies within the tolerance band of its trip.',
    remedy: 'Raise the trip current, or divide the district.',
    says: (p: { district: string; worstAmp: number; lowAmp: number }) =>
      `District ${p.district}: the worst load of ${amp(p.worstAmp)} may trip it (from ${amp(p.lowAmp)}).`,
  },
  'enable-apart': {
    means: 'A separate enable pin for a driver that a trip of another district also switches off.',
    says: (p: { key: string; from: string; to: string; district: string; other: string }) =>
      `set ${p.key} to ${p.to} (now ${p.from}), and let the firmware drive that pin too: a trip of ${p.district} then leaves ${p.other} on`,
  },
  'shared-enable': {
    means: 'A trip of one district switches another off, because one controller pin enables both drivers.',
    remedy: 'Give each driver its own enable pin.',
    says: (p: { district: string; other: string; pin: string }) =>
      `a trip of ${p.district} switches ${p.other} off too: ${p.pin} enables both drivers`,
  },
  'shared-driver': {
    means: 'A trip of one district switches another off, because one driver feeds both.',
    says: (p: { district: string; other: string; driver: string }) =>
      `a trip of ${p.district} switches ${p.other} off too: driver ${p.driver} feeds both`,
  },
  'shared-fuse': {
    means:
      'A short in one district may blow the fuse of its supply before it trips, and takes the other districts with it.',
    remedy: 'Let the district trip sooner, or give it its own fuse that opens before that of the supply.',
    says: (p: { district: string; other: string; supply: string; ratingAmp: number; amp: number }) =>
      `a short in ${p.district} of ${amp(p.amp)} may blow the ${amp(p.ratingAmp)} fuse of supply ${p.supply} before it trips, and ${p.other} stays off until the fuse is replaced`,
  },
  'shared-supply': {
    means:
      'A short in one district takes away the voltage of another until it trips, because one supply feeds both.',
    says: (p: { district: string; other: string; supply: string; limited: boolean }) =>
      p.limited
        ? `a short in ${p.district} holds supply ${p.supply} at its limit until it trips, and takes away the voltage of ${p.other}`
        : `a short in ${p.district} pulls the voltage of supply ${p.supply}, and so that of ${p.other}, down until it trips`,
  },
})
