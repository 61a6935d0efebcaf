/** Each expectation of a scenario file, and who judges it. */
import { BENCH_FINDINGS as SAYS } from '../../findings.data.js'
import type { ExpectationDesign } from '../design.js'
import type { Played } from '../play.js'
import type { Found } from '../result.js'
import { afterHang } from './after-hang.js'
import { afterReset } from './after-reset.js'
import { answer, cv } from './answers.js'
import { commandsActed } from './commands.js'
import { driverSafe } from './driver.js'
import { onlyCommanded } from './only-commanded.js'
import { powerBack } from './power-back.js'
import { powerOff } from './power-off.js'
import { shortOff } from './short-off.js'
import { staysOn } from './stays-on.js'
import { signal, traffic } from './watched.js'

type Key = keyof ExpectationDesign

const JUDGES: { readonly [K in Key]: (e: NonNullable<ExpectationDesign[K]>, played: Played) => Found[] } = {
  shortOff,
  powerBack,
  powerOff,
  staysOn,
  onlyCommanded,
  commandsActed,
  afterReset,
  afterHang,
  cv,
  answer,
  driverSafe,
  signal,
  traffic,
}

/** What came of an expectation; never nothing. */
export function judge(key: Key, expectation: ExpectationDesign, played: Played): Found[] {
  const found = JUDGES[key](expectation[key] as never, played)
  if (found.length > 0) return found
  return [{ about: key, verdict: 'not shown', finding: SAYS.find('nothing-to-judge', { expectation: key }) }]
}
