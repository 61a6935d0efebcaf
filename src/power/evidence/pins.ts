/** Evidence on the controller's pins. */
import { type ChipId, PIN_RATINGS } from '../../controller/index.js'
import type { Evidence } from '../../standard/index.js'
import { formatSi } from '../../units/index.js'
import type { PowerInput, PowerReport } from '../report.js'
import { shareEvidence } from './limited.js'

const amp = (value: number) => formatSi(value, 'A', 3)

export function pinEvidence(report: Omit<PowerReport, 'evidence'>, input: PowerInput): Evidence[] {
  const { rows, conflicts, doubts } = report.pins
  if (rows.length === 0) return []
  const list: Evidence[] = [
    {
      clause: 'pin-conflict',
      origin: 'calculated',
      verdict: conflicts.length ? 'broken' : doubts.length ? 'undecided' : 'met',
      value: { low: conflicts.length, high: conflicts.length, unit: 'pins' },
      margin: conflicts.length ? -1 : 1,
      count: { seen: rows.length, outside: conflicts.length },
      about: 'driver boards',
      because: conflicts.length
        ? conflicts.join('; ')
        : doubts.length
          ? doubts.join('; ')
          : rows.length === 1
            ? 'the pin of the driver boards meets the controller pin it should'
            : `${rows.length} pins of the driver boards each meet the controller pin they should`,
    },
  ]
  const chip = input.controller?.chip
  const rating =
    chip !== undefined && Object.hasOwn(PIN_RATINGS, chip) ? PIN_RATINGS[chip as ChipId] : undefined
  if (!rating) return list
  /** Controller pin → current; one pin may feed several inputs. */
  const pins = new Map<string, number>()
  let unknown = 0
  for (const row of rows) {
    if (row.meets === undefined || row.tied || row.role === 'sense') continue
    if (row.amp === undefined) unknown++
    else pins.set(row.meets, (pins.get(row.meets) ?? 0) + row.amp)
  }
  if (pins.size === 0) return list
  const [pin, worst] = [...pins].reduce((a, b) => (b[1] > a[1] ? b : a))
  const total = [...pins.values()].reduce((a, b) => a + b, 0)
  const single = worst / rating.pinAmp
  const all = rating.totalAmp === undefined ? 0 : total / rating.totalAmp
  const because =
    single >= all
      ? `${pin} carries ${amp(worst)} of ${amp(rating.pinAmp)}`
      : `all pins together carry ${amp(total)} of ${amp(rating.totalAmp!)}`
  const share = Math.max(single, all)
  const open = unknown
    ? `; the current of ${unknown} more ${unknown === 1 ? 'pin' : 'pins'} is not known`
    : ''
  list.push(
    shareEvidence(
      'pin-current',
      chip!,
      share,
      `${because} (absolute limits, ${rating.sheet}, ${rating.status})${open}`,
      unknown && share <= 1 ? 'undecided' : undefined,
    ),
  )
  return list
}
