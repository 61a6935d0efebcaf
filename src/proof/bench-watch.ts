/** What a run of the bench shows beside the scenario's own expectations: signal and traffic, by the same readers as any run. */
import type { CoupledRun, RunWatch } from '../bench/index.js'
import type { LoadedDesign } from '../design/index.js'
import { SignalReader, signalStatements } from '../signal/index.js'
import { isShown, type Statement } from '../standard/index.js'
import { BehaviourWatch } from './behaviour.js'
import { CutoutLevels, withCutoutLevels } from './cutout-levels.js'
import { outputsOf } from './outputs.js'
import { readerOptions } from './reader-options.js'

/** Clauses of the behaviour that are about packets; the bench judges shorts and acknowledgements by what it did itself. */
const TRAFFIC: readonly string[] = ['refresh', 'command-latency']

/**
 * @param interruptions times in which the scenario itself holds or restarts the controller: the list grows as the run
 * goes on, and what is missing then is no fault of the firmware.
 */
export function benchWatch(
  loaded: LoadedDesign,
  run: CoupledRun,
  file: string,
  interruptions: readonly { fromUs: number; toUs: number }[],
): RunWatch {
  const { machine } = run
  const behaviour = new BehaviourWatch(loaded, machine)
  const read = outputsOf(loaded).map((output) => {
    const reader = new SignalReader(
      {
        tickUs: 1e6 / machine.clockHz,
        resolutionUs: 0,
        shows: output.inverted === undefined ? 'one level' : 'rails',
      },
      {
        ...readerOptions(output),
        power: {
          complete: true,
          // Both lists grow as the run goes on.
          get known() {
            return [...behaviour.offPeriods(output.name), ...interruptions]
          },
        },
        powerApplied: true,
        // A verify or a write may end early only once it has been acknowledged.
        acknowledgementsTold: true,
        onPacket: (packet) => behaviour.onPacket(output.name, packet),
      },
    )
    const districts = run.setup.districts.filter((d) => d.output === output.name).map((d) => d.name)
    run.yard.onAcknowledgement.push((district, timeUs) => {
      if (districts.includes(district)) reader.acknowledge(timeUs)
    })
    machine.record(reader, output.pin, output.inverted)
    return { output, reader, levels: new CutoutLevels(machine, output) }
  })
  return {
    statements(ranUs) {
      const source = 'the bench'
      const tick = Math.round((ranUs * machine.clockHz) / 1e6)
      const signal = read.flatMap(({ output, reader, levels }): Statement[] => {
        const place = { file, channel: output.pin }
        const { name: about, profile } = output
        const said = signalStatements(reader.finish(tick, 0), profile, {
          origin: 'simulated',
          source,
          about,
          probe: 'logic',
          place,
        })
        return withCutoutLevels(said, levels.low, about, loaded)
      })
      const traffic = behaviour
        .statements({ source, file, ranUs })
        .filter((s) => TRAFFIC.includes(s.clause) && isShown(s))
      return { signal: signal.filter(isShown), traffic }
    },
  }
}
