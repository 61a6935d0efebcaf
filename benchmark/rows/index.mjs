// All rows of the table, in its order.
import { campaign, coupled } from './bench.mjs'
import { capture, memory } from './capture.mjs'
import { firmware, firstSecond } from './firmware.mjs'
import { prove } from './prove.mjs'
import { reader, readerCutouts, readerFractional, readerJitter } from './reader.mjs'
import { dc, edit, track } from './track.mjs'
import { traffic } from './traffic.mjs'

/**
 * A row: `name`, as it is asked for; `rounds`, where not five; `large`, only when asked for; `prepare(scratch)` makes
 * files for all its figures; `ours(figure, root, scratch)` measures one figure of the build at `root`, null where that
 * version cannot; `referee(figure, root, scratch)` the same of the referee. Each call has a process of its own.
 *
 * A figure: `better` is 'more' or 'less'; `referee.as` is 'times' (how many times as fast as the referee) or 'share'
 * (figure by figure of the referee); `wanted.of` says which number is wanted: 'now' the figure, 'referee' the ratio to
 * the referee, 'commit' how many times as fast as the commit compared with.
 */
export const ROWS = [
  reader,
  readerJitter,
  readerFractional,
  readerCutouts,
  firmware,
  firstSecond,
  dc,
  track,
  edit,
  capture,
  memory,
  traffic,
  prove,
  coupled,
  campaign,
]
