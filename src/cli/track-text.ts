/** The railroad's figures as text: tables with bars, findings, what to change. */
import { type Column, textBar, textTable, wrapText } from '../plot/index.js'
import {
  type Advised,
  type DistrictRinging,
  type FaultFigure,
  type OneFault,
  type RingDecoderFigures,
  type RingingAt,
  type SectionFigure,
  shorten,
  type TrackReport,
} from '../track/index.js'
import { formatNumber, formatSi, formatTimeUs } from '../units/index.js'

const right = (head: string): Column => ({ head, align: 'right' })
const n3 = (value: number) => formatNumber(value, 3)
const span = (s: { low: number; high: number }) =>
  n3(s.low) === n3(s.high) ? n3(s.low) : `${n3(s.low)}…${n3(s.high)}`

/** How many rows of a long table stand before "and N more". */
const ROWS = 12

export interface TextOptions {
  width: number
  /** Every row of every table. */
  all: boolean
  /** The edge at a place asked for. */
  at?: RingingAt
  /** The one fault that everything is told with. */
  fault?: OneFault
}

export function trackText(report: TrackReport, o: TextOptions): string[] {
  return [
    ...(o.fault ? faultHead(o.fault, report, o) : []),
    ...districtLines(report, o),
    ...findingLines(report, o),
    ...sectionLines(report, o),
    ...trainLines(report, o),
    ...shortLines(report, o),
    ...polarityLines(report, o),
    ...faultLines(report, o),
    ...ringingLines(report, o),
    ...conductorLines(report),
  ]
}

/** What the one fault changes, before everything else. */
function faultHead(fault: OneFault, report: TrackReport, o: TextOptions): string[] {
  const rows = report.districts.map((d) => {
    const had = fault.without.find((w) => w.name === d.name)!
    return [
      d.name,
      n3(had.worstVolt),
      n3(d.worstVolt.low),
      d.worstVoltPlace,
      n3(had.weakestShort),
      n3(d.weakestShort.low),
      d.weakestShortPlace,
    ]
  })
  return [
    ...wrapText(`With one fault: ${fault.words}. Every figure below is with this fault.`, o.width),
    '',
    ...table(
      [
        { head: 'district' },
        right('lowest V was'),
        right('is'),
        { head: 'at', wide: true },
        right('short A was'),
        right('is'),
        { head: 'at', wide: true },
      ],
      rows,
      o,
    ),
    '',
  ]
}

/** Below this the widest columns are left out or told in lines of their own. */
const WIDE = 100

/** A table without the columns that only wide terminals have room for. */
function table(columns: (Column & { wide?: boolean })[], rows: string[][], o: TextOptions): string[] {
  if (o.width >= WIDE) return textTable(columns, rows)
  const kept = columns.flatMap((c, i) => (c.wide ? [] : [i]))
  return textTable(
    kept.map((i) => columns[i]!),
    rows.map((row) => kept.map((i) => row[i] ?? '')),
  )
}

function districtLines(report: TrackReport, o: TextOptions): string[] {
  const rows = report.districts.map((d) => [
    d.name,
    `${n3(d.lengthMm / 1000)} m`,
    span(d.openVolt),
    span(d.loadAmp),
    d.tripAmp === undefined ? 'none' : n3(d.tripAmp),
    span(d.worstVolt),
    d.worstVoltPlace,
    span(d.weakestShort),
    d.weakestShortPlace,
  ])
  return [
    'Power districts, from the unfavourable to the favourable case',
    '',
    ...table(
      [
        { head: 'district' },
        right('track'),
        right('no load V'),
        right('trains A'),
        right('trip A'),
        right('lowest V'),
        { head: 'at', wide: true },
        right('short A'),
        { head: 'at', wide: true },
      ],
      rows,
      o,
    ),
    ...(o.width >= WIDE
      ? []
      : [
          '',
          ...report.districts
            .filter((d) => d.lengthMm > 0)
            .flatMap((d) =>
              wrapText(
                `${d.name}: lowest at ${d.worstVoltPlace}; weakest short at ${d.weakestShortPlace}.`,
                o.width,
                '  ',
              ),
            ),
        ]),
    '',
  ]
}

const MARK = { error: 'error', warning: 'warn ', note: 'note ' } as const

function findingLines(report: TrackReport, o: TextOptions): string[] {
  if (report.findings.length === 0) return []
  const rank = { error: 0, warning: 1, note: 2 }
  const sorted = [...report.findings].sort((a, b) => rank[a.severity] - rank[b.severity])
  const shown = o.all ? sorted : sorted.slice(0, 20)
  const lines = shown.flatMap((f) => wrapText(`${MARK[f.severity]} ${f.text}`, o.width, '      '))
  if (shown.length < sorted.length) lines.push(`and ${sorted.length - shown.length} more: --all lists them.`)
  return ['Found', '', ...lines, '']
}

function sectionLines(report: TrackReport, o: TextOptions): string[] {
  const badness = (s: SectionFigure) =>
    lowestVolt(s) / openOf(report, s) + (s.shortShare?.low ?? 0) / (2 * report.shorts.reserve)
  const sorted = [...report.sections].sort((a, b) => badness(a) - badness(b))
  const list = o.all ? report.sections : sorted.slice(0, ROWS)
  const more = report.sections.length - list.length
  const cells = o.width >= WIDE ? 12 : 6
  const rows = list.map((s) => {
    const open = openOf(report, s)
    const low = lowestVolt(s)
    return [
      s.name,
      s.district,
      n3(s.volt.low),
      s.envelopeVolt === undefined ? '' : n3(s.envelopeVolt),
      textBar(open > 0 ? low / open : 0, cells),
      n3(s.shortAmp.low),
      s.shortShare === undefined ? '' : `${n3(s.shortShare.low)}×`,
      textBar(s.shortShare === undefined ? 0 : s.shortShare.low / (2 * report.shorts.reserve), cells),
      s.tripUs === null ? 'never' : s.tripUs === undefined ? '' : formatTimeUs(s.tripUs, 3),
    ]
  })
  return [
    ...wrapText(
      `Sections: lowest voltage, parked and worst case, and a short of ${formatSi(report.shorts.contactOhm, 'Ohm', 3)}${more > 0 ? ', weakest first' : ''}`,
      o.width,
    ),
    '',
    ...table(
      [
        { head: 'section' },
        { head: 'district' },
        right('V'),
        right('worst V'),
        { head: o.width >= WIDE ? '0 … no load' : 'share' },
        right('short A'),
        right('trip'),
        { head: `0 … ${n3(2 * report.shorts.reserve)}×`, wide: true },
        right('off after'),
      ],
      rows,
      o,
    ),
    ...(more > 0 ? [`and ${more} more: --all lists them.`] : []),
    '',
  ]
}

function lowestVolt(s: SectionFigure): number {
  return Math.min(s.volt.low, s.envelopeVolt ?? Number.POSITIVE_INFINITY)
}

function openOf(report: TrackReport, s: SectionFigure): number {
  return report.districts.find((d) => d.name === s.district)?.openVolt.low ?? 1
}

function trainLines(report: TrackReport, o: TextOptions): string[] {
  const lines: string[] = []
  if (report.trains.length > 0) {
    const list = o.all ? report.trains : report.trains.slice(0, ROWS)
    lines.push(
      'Trains as parked',
      '',
      ...textTable(
        [{ head: 'train' }, { head: 'on' }, right('A'), right('V'), { head: '' }],
        list.map((t) => [t.name, t.section, span(t.amp), span(t.volt), t.brownOut ? 'browns out' : '']),
      ),
      ...(list.length < report.trains.length
        ? [`and ${report.trains.length - list.length} more: --all lists them.`]
        : []),
      '',
    )
  }
  if (report.envelope)
    lines.push(
      ...wrapText(
        `Worst arrangement tried: ${n3(report.envelope.volt)} V, at ${report.envelope.place}: ${shorten(report.envelope.arrangement, 7)}. With all trains at the one worst spot it would be ${n3(report.envelope.boundVolt)} V; other arrangements were not tried.${report.envelope.brownOut ? ' Decoders would switch off there: the figure is the voltage they would have left if they kept drawing all they need.' : ''}`,
        o.width,
      ),
      '',
    )
  return lines
}

function shortLines(report: TrackReport, o: TextOptions): string[] {
  const joints = [...report.joints].sort(
    (a, b) =>
      (a.shortShare ?? a.shortAmp) - (b.shortShare ?? b.shortAmp) || a.prospectiveAmp - b.prospectiveAmp,
  )
  const list = o.all ? report.joints : joints.slice(0, 6)
  const lines = [
    'Coin test per joint, weakest first: current through a coin across the rails',
    '',
    ...textTable(
      [{ head: 'joint' }, right('prospective A'), right('short A'), right('of trip'), right('off after')],
      list.map((j) => [
        j.name,
        n3(j.prospectiveAmp),
        n3(j.shortAmp),
        j.shortShare === undefined ? '' : `${n3(j.shortShare)}×`,
        j.tripUs === null ? 'never' : j.tripUs === undefined ? '' : formatTimeUs(j.tripUs, 3),
      ]),
    ),
    '',
  ]
  if (report.joints.length === 0) lines.length = 0
  const heat = report.shorts.heat
  if (heat)
    lines.push(
      ...wrapText(
        `Until a short is off, ${heat.conductor} warms by ${heat.exact ? '' : 'at most '}${formatNumber(heat.riseK, 2)} K (${n3(heat.amp)} A for ${formatTimeUs(heat.timeUs, 3)}, at ${heat.place}), and ${formatSi(heat.contactJoule, 'J', 2)} go into the contact.`,
        o.width,
      ),
      '',
    )
  return lines
}

function polarityLines(report: TrackReport, o: TextOptions): string[] {
  const { routes, uncounted, reversers, opposed } = report.polarity
  const lines = ['Polarity', '']
  for (const f of report.polarity.swapped) lines.push(...wrapText(f.because, o.width, '  '))
  if (routes.length === 0) lines.push('No route joins a rail to the opposite polarity.')
  for (const r of routes) {
    lines.push(
      ...wrapText(
        r.kind === 'turntable'
          ? `${r.names[0]}: the bridge keeps its polarity while the roads' are opposite; give it an automatic reverser or a split ring.`
          : `${n3(r.lengthMm / 1000)} m: ${shorten(r.names)} – back to ${r.names[0]}.${r.gaps ? ` Cut both rails at ${r.gaps[0]} and at ${r.gaps[1]}, and feed the ${n3(r.isolatedMm / 1000)} m between through an automatic reverser.` : ' Cut both rails at two places on it.'}${r.gaps && !r.trainFits ? ' The longest train does not fit between these gaps.' : ''}`,
        o.width,
        '  ',
      ),
    )
  }
  for (const g of opposed) lines.push(...wrapText(g.because, o.width, '  '))
  if (uncounted > 0) lines.push(`and at least ${uncounted} more.`)
  for (const r of reversers)
    lines.push(
      ...wrapText(`Reverser of ${r.run}: ${r.ok ? 'sound' : 'NOT sound'}; ${r.because}.`, o.width, '  '),
    )
  return [...lines, '']
}

function faultLines(report: TrackReport, o: TextOptions): string[] {
  const { list, skipped } = report.faults
  if (list.length === 0) return []
  const kinds = ['open feeder', 'bad joiner', 'swapped feeder']
  const worst = kinds.flatMap((kind) => {
    const own = list.filter((f) => f.kind === kind)
    own.sort((a, b) => (kind === 'swapped feeder' ? (a.idle ?? 0) - (b.idle ?? 0) : score(a) - score(b)))
    if (o.all) return own
    // Both wires of a feeder and both rails of a joint do much the same: the worse of them tells it.
    const places = new Set<string>()
    return own
      .filter((f) => {
        const place = f.name.replace(/, (wire|left|right)\b.*$/, '')
        return !places.has(place) && places.add(place)
      })
      .slice(0, 4)
  })
  return [
    'What one fault would do, the worst of each kind',
    '',
    ...table(
      [
        { head: 'fault' },
        { head: 'at' },
        right('lowest V'),
        { head: 'there', wide: true },
        right(o.width >= WIDE ? 'weakest short' : 'short'),
        right('without trains'),
      ],
      worst.map((f) => [
        f.kind,
        f.name,
        f.volt === undefined ? (f.state === 'no feed' ? 'no feed' : 'not found') : orNone(f.volt),
        f.voltPlace,
        f.short === undefined ? '' : `${orNone(f.short)}×`,
        idleWords(f.idle),
      ]),
      o,
    ),
    ...(skipped > 0 ? [`${skipped} more ${skipped === 1 ? 'place was' : 'places were'} not tried.`] : []),
    ...wrapText(
      `--fault ${worst[0]!.id} reports the whole railroad with that fault, and draws it with --svg.`,
      o.width,
    ),
    '',
  ]
}

/** So little is none for people. */
function orNone(value: number): string {
  return Math.abs(value) < 0.001 ? '0' : n3(value)
}

/** What a swapped feeder draws without any train. */
function idleWords(idle: number | undefined): string {
  if (idle === undefined) return ''
  if (idle < 0.001) return 'only across a gap'
  return `${n3(idle)}× ${idle > 1 ? 'trips at once' : 'never trips'}`
}

/** Lower is worse: what is left of voltage and of the short. */
function score(f: FaultFigure): number {
  return Math.min((f.volt ?? 0) / 10, f.short ?? 0)
}

function ringingLines(report: TrackReport, o: TextOptions): string[] {
  const ringing = report.ringing
  const lines: string[] = []
  if (ringing && ringing.districts.length > 0) {
    lines.push(
      `Edges on the bus: decoders must withstand ${n3(ringing.withstandVolt)} V`,
      '',
      ...textTable(
        [
          { head: 'district' },
          right('far end'),
          right('edge'),
          right('peak'),
          right('V/us'),
          right('back step V'),
          right('turning'),
          { head: 'by' },
        ],
        ringing.districts.map((r) => [
          r.district,
          `${n3(r.farMm / 1000)} m`,
          `${formatTimeUs(r.edgeUs, 3)}${r.edge.from === 'assumed' ? '?' : ''}`,
          `${n3(r.worst.peakVolt)} V`,
          n3(r.slopeVoltPerUs),
          n3(r.distortionVolt),
          formatTimeUs(r.commutationUs, 2),
          r.by,
        ]),
      ),
    )
    for (const r of ringing.districts) {
      lines.push(...edgeLines(r, o))
      if (r.best) lines.push(...terminatorLines(r, ringing.withstandVolt, o))
    }
    lines.push(...decoderLines(ringing.decoder, o), '')
  }
  if (o.at) lines.push(...ringingAtLines(report, o.at, o))
  return lines
}

/** What stands for a decoder, and how that is known. */
function decoderLines(d: RingDecoderFigures, o: TextOptions): string[] {
  const known = (farad: number, status: RingDecoderFigures['capacitanceStatus']) =>
    `${formatSi(farad, 'F', 3)} (${status === 'given' ? 'of the design' : 'common practice, no source'})`
  return wrapText(
    `Each decoder is modelled as ${known(d.capacitanceFarad, d.capacitanceStatus)} at its input and ${known(d.reservoirFarad, d.reservoirStatus)} behind its bridge.`,
    o.width,
    '  ',
  )
}

/** Where the edge is from, and what it leaves open. */
function edgeLines(r: DistrictRinging, o: TextOptions): string[] {
  const { bounds, edge } = r
  const open = bounds
    ? `; between those the peak is ${n3(Math.min(bounds.slow.highPeakVolt, bounds.fast.highPeakVolt))} to ${n3(Math.max(bounds.slow.highPeakVolt, bounds.fast.highPeakVolt))} V`
    : ''
  return wrapText(
    `${r.district}: edge of ${formatTimeUs(r.edgeUs, 3)}, ${edge.because}${open}.`,
    o.width,
    '  ',
  )
}

/** So near to what decoders must withstand, as a share, a resistor and capacitor are worth their work. */
const NEAR = 0.9

function terminatorLines(r: DistrictRinging, withstandVolt: number, o: TextOptions): string[] {
  if (!r.best) return []
  const { peakVolt } = r.worst
  const gain = peakVolt - r.best.peakVolt
  const needed = r.highPeakVolt > NEAR * withstandVolt || r.distortionVolt > 2
  return wrapText(
    gain > 0.02 * peakVolt && !needed
      ? `${r.district}: nothing more is needed at the ends of the bus; ${formatSi(r.best.ohm, 'Ohm', 3)} and ${formatSi(r.best.farad, 'F', 3)} in series across the end of ${r.ends.join(' and of ') || 'the bus'} would make the peak ${n3(r.best.peakVolt)} V.`
      : gain > 0.02 * peakVolt
        ? `${r.district}: ${formatSi(r.best.ohm, 'Ohm', 3)} and ${formatSi(r.best.farad, 'F', 3)} in series across the end of ${r.ends.join(' and of ') || 'the bus'} bring the peak to ${n3(r.best.peakVolt)} V; each resistor dissipates ${formatNumber(r.best.watt, 2)} W, so use one rated for at least twice that.`
        : `${r.district}: a resistor and capacitor across the ends would change the peak by only ${formatNumber(Math.max(0, gain), 2)} V.`,
    o.width,
    '  ',
  )
}

function ringingAtLines(report: TrackReport, { place, way, edges }: RingingAt, o: TextOptions): string[] {
  const { far } = edges
  const m = (mm: number) => `${n3(mm / 1000)} m`
  return [
    `An edge at ${place}`,
    '',
    ...wrapText(
      `Path from the station: ${m(way.busMm)} of bus ("${way.run}"), ${m(way.feederMm)} of feeder (${way.feeder}), ${m(way.railMm)} of rails.`,
      o.width,
      '  ',
    ),
    ...wrapText(
      `Peak ${n3(far.peakVolt)} V, ${n3(far.overshootVolt)} V above the settled value; ${n3(far.slopeVoltPerUs)} V/us between -4 V and +4 V; turns back by up to ${n3(far.distortionVolt)} V, ${far.recrossings === 0 ? 'never' : far.recrossings === 1 ? 'once' : `${far.recrossings} times`} back into the band of 2 V around zero (${edges.by}).`,
      o.width,
      '  ',
    ),
    ...edgeLines(edges, o),
    ...terminatorLines(edges, report.ringing?.withstandVolt ?? 24, o),
    '',
  ]
}

function refusedLines({ refused }: Advised, o: TextOptions): string[] {
  return refused
    .slice(0, o.all ? refused.length : 3)
    .flatMap((r) =>
      wrapText(`Not proposed, as it makes something else worse: ${r.what} ${r.because}.`, o.width, '  '),
    )
}

/** What to change. */
export function adviceText(advice: Advised, o: Pick<TextOptions, 'all' | 'width'>): string[] {
  const { now, list } = advice
  const head = `What to change, ranked by gain per metre of wire; now ${n3(now.worstVolt)} V at worst${now.shortShare === undefined ? '' : ` and a weakest short of ${n3(now.shortShare)}× the trip current by the wiring`}`
  if (list.length === 0)
    return [...wrapText(head, o.width), '', 'None of the changes tried helps.', ...refusedLines(advice, o)]
  const shown = o.all ? list : list.slice(0, 8)
  return [
    ...wrapText(head, o.width),
    '',
    ...shown.flatMap((a, i) => [
      ...wrapText(`${i + 1}. ${a.what}`, o.width, '   '),
      ...wrapText(
        `${n3(a.after.worstVolt)} V (${signed(a.gainVolt)})${a.kind === 'another district' ? `, trains as parked ${n3(a.after.plannedVolt)} V (${signed(a.gainPlannedVolt)})` : ''}${a.after.shortShare === undefined ? '' : `; wiring lets ${n3(a.after.shortShare)}× (${signed(a.gainShare)})`}; ${n3(a.wireM)} m of wire${a.parts ? `, ${a.parts}` : ''}`,
        o.width - 3,
      ).map((line) => `   ${line}`),
    ]),
    ...refusedLines(advice, o),
    ...(shown.some((a) => a.edit) ? ['--apply N writes number N into the design file.'] : []),
  ]
}

function signed(value: number): string {
  if (Math.abs(value) < 0.005) return '±0'
  return `${value < 0 ? '-' : '+'}${formatNumber(Math.abs(value), 2)}`
}

function conductorLines(report: TrackReport): string[] {
  return [
    'Conductors',
    '',
    ...textTable(
      [{ head: 'conductor' }, { head: 'as' }, right('m'), right('mm2'), right('mOhm/m')],
      report.conductors.map((c) => [
        c.name,
        c.use,
        n3(c.metres),
        n3(c.areaMm2),
        `${n3(c.ohmPerM.low * 1000)}…${n3(c.ohmPerM.high * 1000)}`,
      ]),
    ),
    '',
  ]
}
