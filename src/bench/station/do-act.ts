/** Lets an act happen in a run. */
import { formatSi, InputError } from '../../units/index.js'
import type { Spot } from '../electrical/network.js'
import type { Position } from '../trains/motion.js'
import {
  type BenchAct,
  type BenchPlace,
  driverPins,
  type HoldCause,
  isHang,
  placeWords,
  serviceDistrict,
} from './acts.js'
import type { CoupledRun } from './coupled.js'

/** What a parked car is smoothed by; assumed. */
const PARKED = { farad: 10e-6, ohm: 0.5 }

const HELD: Readonly<Record<HoldCause, string>> = {
  hang: 'the program hangs',
  'main loop': 'the main loop hangs',
  reset: 'the controller is held in reset',
  boot: 'the controller boots',
  flashing: 'the controller is flashed',
  'brown-out': 'the controller’s supply fails',
}

/** @throws InputError where the act makes no sense now: it ends what has not begun, or is nowhere. */
export function applyAct(run: CoupledRun, act: BenchAct): void {
  const { yard } = run
  const now = run.nowUs
  switch (act.act) {
    case 'say': {
      const port = act.port ?? run.setup.commands?.port ?? 0
      run.note('command', 'serial line', act.text.trim())
      for (const c of act.text)
        if (!run.controller.receive(port, c.charCodeAt(0)))
          throw new InputError(`the controller has no serial port ${port}`)
      break
    }
    case 'command':
      run.command(act.command, act.command.kind)
      break
    case 'reset':
      run.note('restart', 'controller', 'the controller is reset')
      run.controller.reset()
      break
    case 'hold':
      hold(run, act)
      break
    case 'short': {
      const spot = spotOf(run, act.at)
      run.note('short', placeWords(act.at), `a short of ${act.ohm} Ohm at ${placeWords(act.at)}`)
      run.change(now, () => void run.rails.shorts.set(act.name, { spot, ohm: act.ohm }))
      break
    }
    case 'end-short':
      if (!run.rails.shorts.has(act.name)) throw new InputError(`there is no short "${act.name}" to end`)
      run.note('short', act.name, 'the short is gone')
      run.change(now, () => void run.rails.shorts.delete(act.name))
      break
    case 'load': {
      const load = { spot: spotOf(run, act.at), contact: true, amp: act.amp, ...PARKED, volt: 0 }
      run.note('train', placeWords(act.at), `${formatSi(act.amp, 'A', 3)} more are drawn`)
      run.parked.set(act.name, load)
      run.change(now, () => void run.rails.loads.push(load))
      break
    }
    case 'end-load': {
      const load = run.parked.get(act.name)
      if (!load) throw new InputError(`there is no load "${act.name}" to end`)
      run.note('train', act.name, 'nothing more is drawn')
      run.parked.delete(act.name)
      // Its place in the list stays: others are known by theirs.
      run.change(now, () => {
        load.contact = false
        load.amp = 0
      })
      break
    }
    case 'supply': {
      const supply = run.rails.supplies.find((s) => s.plan.name === act.supply)!
      const give = (volt: number) => {
        run.note('supply', act.supply, volt === 0 ? 'gives nothing' : `gives ${volt} V`)
        run.change(run.nowUs, () => {
          supply.volt = volt
        })
      }
      give(act.volt)
      run.at(now + act.forUs, () => give(supply.plan.volt))
      break
    }
    case 'noise':
      run.note('fault', act.district, `noise of ${formatSi(act.volt, 'V', 3)} RMS at the converter`)
      run.wires.addNoise(act.district, act.volt)
      run.at(now + act.forUs, () => {
        run.note('fault', act.district, 'the noise is gone')
        run.wires.addNoise(act.district, -act.volt)
      })
      break
    case 'track-fault':
    case 'mend-fault': {
      const on = act.act === 'track-fault'
      run.change(now, () => run.network.fault(act.fault, on))
      run.note('fault', act.fault, on ? 'the wiring has this fault' : 'the wiring is mended')
      break
    }
    case 'throw':
      run.ways!.throw(act.turnout, act.to)
      run.note('train', act.turnout, `is thrown to ${act.to}`)
      break
    case 'dirt': {
      const { track, mm } = positionOf(run, act.at)
      yard.dirt.set(act.name, { track, fromMm: mm - act.lengthMm / 2, toMm: mm + act.lengthMm / 2 })
      run.note('fault', placeWords(act.at), `dirt over ${act.lengthMm} mm`)
      break
    }
    case 'clean':
      if (!yard.dirt.delete(act.name)) throw new InputError(`there is no dirt "${act.name}" to clean`)
      run.note('fault', act.name, 'is cleaned')
      break
    default:
      onTrain(run, act)
  }
}

type TrainAct = Extract<BenchAct, { train: string }>

function onTrain(run: CoupledRun, act: TrainAct): void {
  const { yard } = run
  const train = run.train(act.train)
  const now = run.nowUs
  const note = (sentence: string) => run.note('train', act.train, sentence)
  switch (act.act) {
    case 'place': {
      const { at } = act
      note(`is placed at ${placeWords(at)}`)
      const position = run.network.model && !isUndescribed(run, at) ? positionOf(run, at) : undefined
      run.change(now, () => {
        if (position) yard.place(train, position)
        else yard.lay(train, districtOf(run, at), spotOf(run, at))
      })
      break
    }
    case 'remove':
      note('is taken off the rails')
      run.change(now, () => yard.remove(train))
      break
    case 'service-track': {
      const district = run.districts.findIndex((d) => d.plan.name === serviceDistrict(run.setup))
      note('is laid on the service track')
      run.change(now, () => yard.lay(train, district, run.network.extreme(district, 'weakest')))
      break
    }
    case 'lose-contact': {
      const why = `lost at ${now}`
      note('has no contact')
      run.change(now, () => yard.lose(train, why))
      run.at(now + act.forUs, () => run.change(run.nowUs, () => yard.regain(train, why)))
      break
    }
    case 'derail':
      note('derails')
      train.derailedOhm = act.ohm
      break
    case 'rerail':
      if (train.derailedOhm === undefined) throw new InputError(`"${act.train}" is not derailed`)
      note('is back on the rails')
      train.derailedOhm = undefined
      break
    case 'acknowledge':
      note('acknowledges in another way')
      train.acknowledgement = { ...train.acknowledgement, ...act.how }
      break
    case 'stick-motor':
    case 'free-motor':
      train.isStuck = act.act === 'stick-motor'
      note(train.isStuck ? 'its motor is blocked' : 'its motor turns again')
      run.change(now)
      break
    default:
  }
}

/** The program does not run; pins that are floating take what holds them. */
function hold(run: CoupledRun, { why, forUs, pins = {}, others }: Extract<BenchAct, { act: 'hold' }>): void {
  run.note('restart', 'controller', HELD[why])
  const pulls = Object.assign({}, ...run.setup.districts.map((d) => d.driver.pulls ?? {}))
  const levels: Record<string, 0 | 1> = {}
  for (const pin of driverPins(run.setup)) {
    const asked = pins[pin] ?? others ?? (isHang(why) ? undefined : 'floating')
    // A hung program leaves its timers to drive their pins.
    if (asked === undefined || (asked === 'kept' && isHang(why))) continue
    if (asked === 'floating') levels[pin] = pulls[pin] ?? 0
    else levels[pin] = asked === 'kept' ? run.controller.levelOf(pin) : asked === 'high' ? 1 : 0
  }
  const untilUs = run.nowUs + forUs
  if (why === 'hang') run.controller.hang(untilUs)
  else if (why === 'main loop') run.controller.hangMain(untilUs)
  else run.controller.holdReset(untilUs, why === 'brown-out' ? why : 'external')
  run.wires.hold(levels)
  run.at(untilUs, () => {
    run.wires.hold({})
    run.note('restart', 'controller', isHang(why) ? 'the program goes on' : 'the controller restarts')
  })
}

/** The place is in a district whose track the design does not describe. */
function isUndescribed(run: CoupledRun, at: BenchPlace): boolean {
  return 'district' in at && !run.network.isDescribed(districtOf(run, at))
}

function districtOf(run: CoupledRun, at: BenchPlace): number {
  if ('district' in at) return run.districts.findIndex((d) => d.plan.name === at.district)
  if ('train' in at) return run.train(at.train).district
  return run.network.districtOfTrack(positionOf(run, at).track)
}

function spotOf(run: CoupledRun, at: BenchPlace): Spot {
  if ('train' in at) {
    const train = run.train(at.train)
    if (train.district < 0) throw new InputError(`"${at.train}" is on no rails`)
    return train.load.spot
  }
  if ('district' in at) return run.network.extreme(districtOf(run, at), at.end)
  const { track, mm } = positionOf(run, at)
  return run.network.place(run.network.placeAt(track, mm))
}

function positionOf(run: CoupledRun, at: BenchPlace): Position {
  const { network } = run
  if ('section' in at) {
    const found = network.named(at.section, at.atMm)
    if (!found) throw new InputError(`there is no section "${at.section}"`)
    return found
  }
  if ('train' in at) {
    const front = run.train(at.train).motion?.front
    if (!front) throw new InputError(`"${at.train}" is nowhere on the described track`)
    return front
  }
  const position = network.positionOf(spotOf(run, at))
  if (!position) throw new InputError(`the design does not describe ${placeWords(at)}`)
  return position
}
