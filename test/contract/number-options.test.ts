import { expect, it } from 'vitest'
import { halfbitHere } from './here.js'

it.each(['-1', '-NaN', '1e99', 'NaN', 'text'])(
  'refuses the seed "%s" with one line of its own',
  async (seed) => {
    const ran = await halfbitHere(['power', 'examples/flawed/halfbit.yaml', '--seed', seed])
    expect(ran).toEqual({
      status: 2,
      stdout: '',
      stderr: `halfbit: --seed ${seed}; expected a whole number from 0 to 999999999\n`,
    })
  },
)
