/*
 * An evening of the oval on Halfbit's bench: the firmware, the railroad, the dispatcher at the serial line, and wheels that
 * lose contact at random. It keeps a record of what must never happen.
 */
import { dispatcher, TRAINS } from './dispatcher.js'

const LOOK_MS = 20

/**
 * @param bench `CoupledRun`, `attachScript` and `randomOf` of the bench
 * @param setup the design with its firmware, as the bench puts it together
 */
export function runEvening(bench, setup, { seconds, seed, onMinute }) {
  const run = new bench.CoupledRun(setup)
  const spoken = bench.attachScript(run, dispatcher())
  const random = bench.randomOf(`contacts ${seed}`)
  let lost = 0
  const looseContact = (train, atMs) =>
    run.at(atMs * 1000, () => {
      run.do({ act: 'lose-contact', train, forUs: 5e3 + 75e3 * random() })
      lost++
      looseContact(train, atMs + 1000 + 3000 * random())
    })
  for (const { name } of TRAINS) looseContact(name, 2000 + 2000 * random())

  const record = { together: [], stops: 0, outside: [], lateMs: [], unheard: [], ranMm: 0, lost: 0 }
  const moving = new Map(TRAINS.map((t) => [t.name, false]))
  const look = (atMs) =>
    run.at(atMs * 1000, () => {
      const inBlock = new Map()
      for (const { name, address } of TRAINS) {
        const train = run.train(name)
        const { sections } = run.yard.where(train)
        for (const block of new Set(sections)) {
          const other = inBlock.get(block)
          if (other) record.together.push({ atMs, block, trains: [other, name] })
          inBlock.set(block, name)
        }
        const stands = train.speedMmPerS === 0
        const told = spoken.findLast((s) => s.text.startsWith(`go ${address} `))
        // A train without contact may stand anywhere for a moment; a stop is what the dispatcher has asked for.
        if (stands && moving.get(name) && told?.text === `go ${address} 0`) {
          record.stops++
          if (new Set(sections).size > 1) record.outside.push({ atMs, name, sections })
        }
        moving.set(name, !stands)
      }
      look(atMs + LOOK_MS)
    })
  look(LOOK_MS)
  for (let s = 60; s < seconds; s += 60) {
    run.runTo(s * 1e6)
    onMinute?.(s / 60)
  }
  run.runTo(seconds * 1e6)

  for (const { name, address } of TRAINS) {
    const { events } = run.decoder(name)
    const commands = spoken.filter((s) => s.text.startsWith(`go ${address} `))
    for (const [i, { timeUs, text }] of commands.entries()) {
      const until = commands[i + 1]?.timeUs ?? seconds * 1e6
      const step = Number(text.split(' ')[2])
      const wanted = step === 0 ? 'stop' : `step ${step} of 126 forward`
      const heard = events.find((e) => e.timeUs >= timeUs && e.timeUs < until && e.sentence === wanted)
      if (heard) record.lateMs.push((heard.timeUs - timeUs) / 1000)
      // A decoder without voltage at that moment has stopped already.
      else if (step !== 0 && until - timeUs > 1e6) record.unheard.push({ atMs: timeUs / 1000, text })
    }
    record.ranMm += run.train(name).motion.ranMm
  }
  record.lost = lost
  return record
}

/** Time within which so large a share of the commands was acted on, ms. */
export function within(lateMs, share) {
  const sorted = [...lateMs].sort((a, b) => a - b)
  return sorted[Math.min(sorted.length - 1, Math.ceil(share * sorted.length) - 1)]
}
