/** The power stage as lines for a terminal. */
import { textBar, textTable, wrapText } from '../plot/index.js'
import {
  between,
  chance,
  compareEditions,
  type DistrictReport,
  type DriverReport,
  type InrushReport,
  type PowerReport,
  type SupplyReport,
} from '../power/index.js'
import type { Proposal } from '../proof/index.js'
import type { Profile } from '../standard/index.js'
import { formatNumber, formatShare, formatSi, formatTimeUs } from '../units/index.js'
import { evidenceLines } from './evidence-text.js'
import { cornerLines, proposalLines } from './power-corners-text.js'

const amp = (value: number) => formatSi(value, 'A', 3)
const volt = (value: number) => `${formatNumber(value, 3)} V`
const time = (us: number) => (Number.isFinite(us) ? formatTimeUs(us, 3) : 'never')
/** How long something survives a current. */
const lasts = (us: number, digits = 3) =>
  us === 0 ? 'not at all' : Number.isFinite(us) ? formatTimeUs(us, digits) : 'indefinitely'

/** What an inrush beyond what the supply surely gives does, by the kind of its limit. */
const SUPPLY_AT_INRUSH: Readonly<Record<InrushReport['supplyKind'], string>> = {
  constant: 'the supply holds the current at its limit meanwhile, and its voltage falls',
  foldback: 'more than the supply is sure to give: a foldback limit may latch at a low voltage',
  hiccup: 'more than the supply is sure to give: one that switches off and retries may never start',
  battery: 'a battery does not limit the current; only its fuse and the resistances do',
  none: 'the supply has no current limit: its fuse carries the inrush',
  unknown: 'more than the supply is sure to give: how it reacts to that is not known',
}

export function powerLines(
  report: PowerReport,
  profile: Profile,
  width: number,
  compare: boolean,
  proposals: readonly Proposal[],
): string[] {
  const wide = Math.max(60, Math.min(width, 120))
  const lines = [`Power stage, ${profile.title}, edition ${profile.edition}, scale ${profile.scale}`]
  for (const s of report.supplies) lines.push('', ...supplyLines(s))
  for (const d of report.districts) lines.push('', ...districtLines(d, profile))
  for (const d of report.drivers) lines.push('', ...driverLines(d, wide))
  if (report.pins.rows.length) lines.push('', ...pinLines(report))
  if (report.regulator) {
    const r = report.regulator
    lines.push('', `Regulator of the controller, fed with ${volt(r.inputVolt)} from the track supply`)
    lines.push(
      `  ${formatNumber(r.watt, 3)} W, junction ${formatNumber(r.junctionC, 3)} of ${formatNumber(r.junctionMaxC)} °C  ${textBar(r.share)} ${formatShare(r.share)} of its rating (${r.limit})`,
    )
  }
  if (compare) lines.push('', ...compareLines(report, profile))
  lines.push('', ...evidenceLines(report.evidence, wide))
  lines.push(...cornerLines(report, wide))
  lines.push(...proposalLines(proposals, wide))
  if (report.notices.length) {
    lines.push('', 'Worth knowing:')
    for (const { sentence } of report.notices)
      lines.push(...wrapText(sentence, wide - 4, '  ').map((l) => `  ${l}`))
  }
  if (report.missing.length) {
    lines.push('', 'Not shown, because the design does not give:')
    for (const m of report.missing) lines.push(...wrapText(m, wide - 4, '  ').map((l) => `  ${l}`))
  }
  lines.push('', 'Care:')
  for (const c of report.cautions) lines.push(...wrapText(c, wide - 2, '').map((l) => `  ${l}`))
  return lines
}

function supplyLines(s: SupplyReport): string[] {
  const rows = s.rows.map((r) => [
    r.who,
    amp(r.runningAmp),
    amp(r.worstAmp),
    amp(r.stalledAmp),
    textBar(r.worstAmp / s.ratingAmp),
  ])
  rows.push([
    'together',
    amp(s.runningAmp),
    amp(s.worstAmp),
    amp(s.stalledAmp),
    `${textBar(s.worstAmp / s.ratingAmp)} ${formatShare(s.worstAmp / s.ratingAmp)}`,
  ])
  const table = textTable(
    [
      { head: 'what it feeds' },
      { head: 'usual', align: 'right' },
      { head: 'worst', align: 'right' },
      { head: 'stalled', align: 'right' },
      { head: `worst of ${amp(s.ratingAmp)}` },
    ],
    rows,
  )
  const lines = [`Supply ${s.name}, rated ${amp(s.ratingAmp)}`, ...table.map((l) => `  ${l}`)]
  if (s.without.length) lines.push(`  without ${s.without.join(', ')}, whose load is not known`)
  else {
    lines.push(
      `  the worst-case load${s.neededToTripAmp === undefined ? ' requires' : ' and the trip require'} a rating of ${amp(s.adviseRatingAmp)} or more; a fuse at its output carries it from ${amp(s.adviseFuseAmp)}`,
    )
  }
  if (s.neededToTripAmp !== undefined) {
    lines.push(
      `  to trip ${s.neededBy} with the rest running, it must give ${amp(s.neededToTripAmp)}; it gives ${amp(s.capableAmp)}`,
    )
  }
  return lines
}

function districtLines(d: DistrictReport, profile: Profile): string[] {
  const lines = [
    `District ${d.name}: driver ${d.driver}${d.channels > 1 ? `, ${d.channels} channels` : ''}${d.output ? `, output ${d.output}` : ''}`,
  ]
  const v = d.voltage
  if (v) {
    const max = profile.clauses['track-voltage-max'].sender.max ?? v.highestVolt
    const row = (what: string, low: number, note: string) =>
      lines.push(`  ${what.padEnd(26)} ${volt(low).padStart(7)}  ${textBar(low / max)} ${note}`)
    row('no load, at most', v.highestVolt, `of ${max} V`)
    if (v.atRunning) row(`usual load, ${amp(v.atRunning.amp)}`, v.atRunning.typicalVolt, 'typical')
    if (v.atWorst) {
      row(`worst load, ${amp(v.atWorst.amp)}`, v.atWorst.weakVolt, 'weaker polarity, hot')
      row('  the other polarity', v.atWorst.otherVolt, '')
    }
  }
  if (d.sense) {
    const s = d.sense
    lines.push(
      `  current sense: ${formatSi(s.ampPerCount, 'A', 3)} per count, range ${amp(s.rangeAmp)}, gain ± ${formatShare(s.gainError)}, offset ± ${amp(s.offsetAmp)}, noise ${amp(s.noiseAmp)}`,
    )
  }
  if (d.trip) {
    const t = d.trip
    const count = t.count === undefined ? '' : ` (count ${t.count})`
    lines.push(`  trip by ${t.by}: ${amp(t.nominalAmp)}${count}, with all errors ${between(t)}`)
    const picks = t.curve.filter((p) => Number.isFinite(p.worstUs))
    if (picks.length) {
      const shown = [0.05, 0.35, 0.7, 1].map(
        (share) => picks[Math.min(picks.length - 1, Math.floor(share * picks.length))]!,
      )
      lines.push(
        `    trip time at ${shown.map((p) => `${amp(p.amp)}: ${time(p.bestUs)} to ${time(p.worstUs)}`).join('; ')}`,
      )
    }
  }
  if (d.short) {
    const s = d.short
    if (s.leastAmp < 0.995 * s.amp)
      lines.push(
        `  short at the terminals, at least: ${amp(s.leastAmp)}, ${Number.isFinite(s.leastTripUs) ? `off after ${time(s.leastTripUs)} at the latest` : 'never trips'}`,
      )
    lines.push(
      `  short at the terminals${s.leastAmp < 0.995 * s.amp ? ', at most' : ''}: ${amp(s.amp)}, ${Number.isFinite(s.tripUs) ? `off after ${time(s.tripUs)} at the latest, lets ${formatNumber(s.letThroughA2s, 3)} A²s through` : 'not sure to trip'}`,
    )
    const stands =
      s.driverStandsUs === undefined ? s.driverBecause : `${lasts(s.driverStandsUs)} (${s.driverBecause})`
    lines.push(
      s.driverStandsUs === undefined
        ? `    how long the driver survives it is not known: ${stands}`
        : `    driver survives it ${stands}`,
    )
    if (s.fuseMeltsUs !== undefined) lines.push(`    the fuse blows after about ${time(s.fuseMeltsUs)}`)
    if (s.wireStandsUs !== undefined)
      lines.push(
        `    thinnest wire survives it ${lasts(s.wireStandsUs)} (${formatNumber(s.wireA2s!, 3)} A²s)`,
      )
  }
  if (d.inrush) {
    const i = d.inrush
    const trips =
      i.tripsAtUs === undefined
        ? ''
        : Number.isFinite(i.tripsAtUs)
          ? `; it trips after ${time(i.tripsAtUs)}`
          : '; it does not trip'
    lines.push(`  power-up: peak ${amp(i.peakAmp)}, capacitors full after ${time(i.lastsUs)}${trips}`)
    if (i.driverSafe === undefined && i.junctionC !== undefined) {
      lines.push(
        Number.isFinite(i.junctionC)
          ? `    the driver's junction reaches ${formatNumber(i.junctionC, 3)} °C; the peak that it survives is not known`
          : "    the driver's junction runs away meanwhile",
      )
    }
    if (i.driverSafe !== undefined) {
      const hot =
        i.junctionC === undefined
          ? ''
          : Number.isFinite(i.junctionC)
            ? ` (junction up to ${formatNumber(i.junctionC, 3)} °C)`
            : ' (its junction runs away)'
      lines.push(`    ${i.driverSafe ? 'the driver survives that' : 'more than the driver survives'}${hot}`)
    }
    if (i.driverLimits)
      lines.push("    it reaches the driver's own current limit: it may switch off, or charge in steps")
    if (i.supplyLimits) lines.push(`    ${SUPPLY_AT_INRUSH[i.supplyKind]}`)
  }
  if (d.acknowledgement) {
    const a = d.acknowledgement
    lines.push(
      `  acknowledgement: ${a.rule.samples} of ${a.rule.of} ${a.rule.of === 1 ? 'sample' : 'samples'} above ${amp(a.rule.thresholdAmp)} at ${formatNumber(a.situation.rate)} /s${a.proposed ? ' (proposed)' : ''}`,
    )
    lines.push(
      `    misses ${chance(a.chances.miss)}, false ${chance(a.chances.false)} (${a.chances.method}); ${Math.round(a.played.miss * a.played.runs)} of ${a.played.runs} simulated ${a.played.runs === 1 ? 'pulse' : 'pulses'} missed`,
    )
    const b = a.advice
    if (!a.proposed) {
      lines.push(
        `    best: ${b.rule.samples} of ${b.rule.of} above ${amp(b.rule.thresholdAmp)} at ${formatNumber(b.rate)} /s, ${b.average} ${b.average === 1 ? 'conversion' : 'conversions'} averaged: misses ${chance(b.chances.miss)}, false ${chance(b.chances.false)}`,
      )
    }
  }
  if (d.adviseFuseAmp !== undefined)
    lines.push(
      `  a fuse carries its load from ${amp(d.adviseFuseAmp)}; wires and supply decide whether that opens in time`,
    )
  return lines
}

function driverLines(d: DriverReport, width: number): string[] {
  const lines = [`Driver ${d.name}: ${d.part}`]
  if (d.suits === 'no' || d.suits === 'doubtful')
    lines.push(`  ${d.suits === 'no' ? 'Unsuitable' : 'Doubtful'}: ${d.remark}`)
  else if (d.remark) lines.push(...wrapText(d.remark, width - 2).map((l) => `  ${l}`))
  for (const c of d.channelAmps) {
    const split = c.sharing.amps.length > 1 ? ` as ${c.sharing.amps.map(amp).join(' + ')}` : ''
    lines.push(`  ${c.district}: ${amp(c.totalAmp)}${split}, ${volt(c.sharing.dropVolt)} lost`)
  }
  if (d.watt !== undefined) {
    lines.push(
      ...textTable(
        [{ head: 'heat of the hottest package' }, { head: 'W', align: 'right' }, { head: '' }],
        d.parts.map((p) => [p.what, formatNumber(p.watt, 3), textBar(p.watt / d.watt!)]),
      ).map((l) => `  ${l}`),
    )
  }
  if (d.junctionC !== undefined) {
    const max = d.junctionMaxC === undefined ? '' : ` of ${formatNumber(d.junctionMaxC)} °C`
    const bar =
      d.junctionMaxC === undefined
        ? ''
        : `  ${textBar((d.junctionC - d.ambientC) / (d.junctionMaxC - d.ambientC))}`
    lines.push(
      Number.isFinite(d.junctionC)
        ? `  junction ${formatNumber(d.junctionC, 3)}${max} at ${formatNumber(d.ambientC)} °C around it${bar}`
        : '  junction runs away: more cooling is needed',
    )
  }
  const overloads = d.overloads.filter((o) => o.us !== undefined)
  if (overloads.length) {
    const each = overloads.map((o) => `${amp(o.amp)} ${lasts(o.us!, 2)}`)
    lines.push(`  an overload of a channel may last: ${each.join(', ')}`)
  }
  if (d.skew) {
    lines.push(
      `  half-bits change by up to ± ${formatNumber(d.skew.halfUs, 2)} us, halves differ by up to ${formatNumber(d.skew.differenceUs, 2)} us; one-sided loads add up to ${formatNumber(d.skew.oneSidedUs, 2)} us`,
    )
  }
  if (d.slopeVoltPerUs !== undefined)
    lines.push(
      `  edges ${Number.isFinite(d.slopeVoltPerUs) ? formatNumber(d.slopeVoltPerUs, 3) : 'beyond 1000'} V/us between -4 V and +4 V, without load`,
    )
  return lines
}

function pinLines(report: PowerReport): string[] {
  const rows = report.pins.rows.map((r) => [
    r.driver,
    r.board,
    r.role,
    r.tied ? `tied ${r.tied}` : (r.meets ?? 'open'),
    r.conflict ? `CONFLICT: ${r.conflict}` : r.fit || 'fits',
  ])
  return [
    'Pin plan',
    ...textTable(
      [{ head: 'driver' }, { head: 'board pin' }, { head: 'role' }, { head: 'meets' }, { head: 'to do' }],
      rows,
    ).map((l) => `  ${l}`),
  ]
}

function compareLines(report: PowerReport, profile: Profile): string[] {
  const rows = compareEditions(report.districts, profile.scale).map((r) => [
    r.district,
    `${r.profile} ${r.edition}`,
    r.status === 'confirmed' ? r.document : `${r.document} (${r.status})`,
    `${r.minVolt ?? ''} to ${r.maxVolt ?? ''} V`,
    r.rmsCeilingVolt === undefined ? 'none' : `${r.rmsCeilingVolt} V`,
    r.lowVolt === undefined ? 'not known' : volt(r.lowVolt),
    volt(r.highVolt),
    r.broken.length ? `broken: ${r.broken.join(', ')}` : r.partial ? 'met without load' : 'met',
  ])
  return [
    'Track voltage by edition',
    ...textTable(
      [
        { head: 'district' },
        { head: 'edition' },
        { head: 'voltages from' },
        { head: 'window' },
        { head: 'RMS at most' },
        { head: 'lowest', align: 'right' },
        { head: 'highest', align: 'right' },
        { head: 'verdict' },
      ],
      rows,
    ).map((l) => `  ${l}`),
  ]
}
