// `halfbit prove` of the exhibition, on the clock: its parts may run beside each other.
import { dirname } from 'node:path'
import { buildAt, programCpuSeconds, wallSeconds } from '../measuring.mjs'

export const prove = {
  name: 'prove',
  figures: [
    {
      id: 'clock',
      work: '`halfbit prove` of the exhibition, on the clock',
      unit: 's',
      better: 'less',
      wanted: { of: 'commit', atLeast: 1 / 0.6 },
    },
    {
      id: 'processor',
      work: '  the same, processor time',
      unit: 's',
      better: 'less',
    },
  ],
  ours({ id }, build) {
    const file = buildAt(build).example('exhibition/halfbit.yaml')
    process.chdir(dirname(file))
    const args = [buildAt(build).cli, 'prove', file]
    return (id === 'clock' ? wallSeconds : programCpuSeconds)(process.execPath, args, [0, 1])
  },
}
