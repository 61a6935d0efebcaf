/** The traffic's figures as tables. */
import { BROADCAST } from '../packet/index.js'
import { type Column, textBar, textTable, wrapText } from '../plot/index.js'
import {
  type Carries,
  type CaseResult,
  type Choice,
  type ResolvedTraffic,
  type StopFigures,
  summarise,
  type TrafficSeen,
} from '../traffic/index.js'
import { formatNumber, formatRange, formatShare, formatTimeUs } from '../units/index.js'

const ROWS = 12

/** Sentences broken to the width. */
const prose = (width: number, ...sentences: string[]) => sentences.flatMap((s) => wrapText(s, width, '  '))

const right = (...heads: string[]): Column[] => heads.map((head) => ({ head, align: 'right' }))
const time = (us: number) => (Number.isFinite(us) ? formatTimeUs(us, 3) : '-')

/** One policy's figures, without loss, and beside them those on dirty track. */
export function caseText(
  traffic: ResolvedTraffic,
  clean: CaseResult,
  dirty: CaseResult | undefined,
  width: number,
): string[] {
  const { limit } = traffic.input.traffic
  return [
    ...prose(
      width,
      `${clean.locomotives} locomotives, policy "${clean.policy}": ${formatNumber(clean.packets, 3)} packets in ${formatTimeUs(clean.timeUs, 3)} of railroad time, ${formatNumber(clean.perSecond, 4)} packets/s`,
    ),
    '',
    ...sharesText(clean, width),
    '',
    ...refreshText(clean, dirty, width),
    '',
    ...latencyText(clean, dirty, limit, width),
    '',
    ...queueText(clean, width),
  ]
}

function sharesText(r: CaseResult, width: number): string[] {
  return textTable(
    [{ head: 'packets' }, { head: 'why' }, ...right('share'), { head: '' }],
    r.sent.map((s) => [
      s.content,
      s.content === 'idle' ? 'nothing to send' : s.reason,
      formatShare(s.share),
      textBar(s.share),
    ]),
    width,
  )
}

function refreshText(clean: CaseResult, dirty: CaseResult | undefined, width: number): string[] {
  const worth = (r: CaseResult['refresh'][number]) => r.worstUs / (r.timeoutUs || 1e12)
  const rows = clean.refresh
    .map((r, i) => ({ r, d: dirty?.refresh[i] }))
    .sort((a, b) => worth(b.r) - worth(a.r) || b.r.worstUs - a.r.worstUs)
  const lines = textTable(
    [{ head: 'refresh of' }, ...right('mean', 'longest', 'on dirty track', 'time-out')],
    rows
      .slice(0, ROWS)
      .map(({ r, d }) => [
        r.name,
        time(r.meanUs),
        time(r.worstUs),
        d ? time(d.worstUs) : '-',
        r.timeoutUs === undefined ? 'not given' : r.timeoutUs === 0 ? 'none' : time(r.timeoutUs),
      ]),
    width,
  )
  if (rows.length > ROWS) lines.push(`and ${rows.length - ROWS} more with more room`)
  return lines
}

function latencyText(
  clean: CaseResult,
  dirty: CaseResult | undefined,
  limitUs: number,
  width: number,
): string[] {
  const rows = clean.latency.flatMap((l, i) => {
    if (l.commands === 0) return []
    const d = dirty?.latency[i]
    const { low, high } = l.first.p95Us
    const sure = Number.isFinite(low) ? `${time(low)} to ${time(high)}` : 'too few'
    return [
      [
        l.kind,
        String(l.commands),
        time(l.first.medianUs),
        time(l.first.p95Us.value),
        sure,
        time(l.first.p99Us),
        time(l.first.worstUs),
        time(l.last.p95Us.value),
        time(l.whole.p95Us.value),
        d ? time(d.first.p95Us.value) : '-',
      ],
    ]
  })
  if (rows.length === 0)
    return ['No operator, script or stop gives commands, so there is no latency to report.']
  const lines = textTable(
    [
      { head: 'latency' },
      ...right(
        'commands',
        'median',
        '95 %',
        'sure to 95 %',
        '99 %',
        'worst',
        'last, 95 %',
        'hand to it, 95 %',
        'dirty, 95 %',
      ),
    ],
    rows,
    width,
  )
  lines.push(
    ...prose(
      width,
      `From arrival at the station to the end of the first packet heard; wanted for 95 of 100: ${time(limitUs)}.`,
    ),
  )
  if (clean.latency.some((l) => l.commands > 0 && l.wide))
    lines.push(
      ...prose(
        width,
        'Intervals wider than a tenth either way: the run was too short for that kind, or its tail is long.',
      ),
    )
  return lines
}

function queueText(r: CaseResult, width: number): string[] {
  const { commands: c, queue } = r
  const lines = [
    `Waiting changes when a packet begins: ${formatNumber(queue.mean, 3)} on average, ${queue.worst} at most, room for ${queue.room}.`,
    `Commands: ${c.total}; ${c.superseded} replaced by a newer one, ${c.lostFull} lost to a full queue, ${c.lostAtLink} to a slow link, ${c.neverHeard} never heard.`,
  ]
  if (r.linkLoad > 0) lines.push(`The link is busy ${formatShare(r.linkLoad)} of the time.`)
  return prose(width, ...lines)
}

export function stopsText(figures: readonly StopFigures[], sure: number, width: number): string[] {
  const kmh = (speed: number) => `${formatNumber((speed * 3600) / 1e6, 3)} km/h`
  const mm = (x: number) => (Number.isFinite(x) ? `${formatNumber(x, 3)} mm` : '-')
  const lines = textTable(
    [
      { head: 'stop' },
      ...right('length', 'from', 'time to decoder', 'median', '99 %', 'inside', 'needs', 'safe up to'),
      { head: 'verdict', wrap: 20 },
    ],
    figures.map((f) => [
      f.name,
      mm(f.lengthMm),
      kmh(f.fullSpeed),
      time(f.medianUs),
      mm(f.medianMm),
      mm(f.p99Mm),
      formatRange(100 * f.insideLow, 100 * f.insideHigh, '%', 3),
      mm(f.neededMm),
      kmh(f.safeFullSpeed),
      f.verdict +
        (f.wholeTrain === undefined ? '' : `, whole train at it ${formatShare(f.wholeTrain)}`) +
        (f.verdict === 'early' ? `, wait ${time(f.waitMoreUs ?? 0)} longer` : ''),
    ]),
    width,
  )
  lines.push(
    ...prose(
      width,
      `inside: share of stops, with 95 % confidence; wanted ${formatShare(sure)}. The rails decide: measure it with the slowest detector and the fastest train.`,
    ),
  )
  return lines
}

export function compareText(
  clean: readonly CaseResult[],
  dirty: readonly CaseResult[],
  carries: readonly Carries[],
  choice: Choice,
  width: number,
): string[] {
  const rows = clean.map((r, i) => {
    const s = summarise(r)
    const d = dirty[i] ? summarise(dirty[i]) : undefined
    const many = (share: number) => {
      const c = carries.find((x) => x.policy === r.policy && x.lost === share)
      if (!c) return '-'
      return c.tooMany === undefined ? `${c.locomotives} or more` : String(c.locomotives)
    }
    return [
      r.policy,
      time(s.p95Us),
      s.slowest,
      d ? time(d.p95Us) : '-',
      time(s.worstRefreshUs),
      d ? time(d.worstRefreshUs) : '-',
      formatShare(s.lostShare),
      String(s.gapsBroken),
      many(0),
      d ? many(d.lost) : '-',
    ]
  })
  const lines = textTable(
    [
      { head: 'policy' },
      ...right(
        '95 %',
        'slowest',
        'dirty',
        'longest pause',
        'dirty',
        'lost',
        'under 5 ms',
        'carries',
        'dirty',
      ),
    ],
    rows,
    width,
  )
  for (const c of carries) {
    const loss = c.lost > 0 ? `, ${formatShare(c.lost)} of packets lost` : ''
    if (c.tooMany !== undefined)
      lines.push(...prose(width, `"${c.policy}"${loss}: ${c.tooMany} locomotives are too many, ${c.why}`))
  }
  lines.push(...prose(width, `Suits best: ${choice.says}.`))
  return lines
}

/** What was really sent beside what was planned. */
export function seenText(
  traffic: ResolvedTraffic,
  plan: CaseResult,
  seen: TrafficSeen,
  source: string,
  width: number,
): string[] {
  const planned = new Map(plan.refresh.map((r) => [r.addressee, r]))
  const share = (content: string) =>
    plan.sent.filter((s) => s.content === content).reduce((sum, s) => sum + s.share, 0)
  const lines = [
    ...prose(
      width,
      `${source}: ${seen.packets} packets in ${formatTimeUs(seen.timeUs, 3)}, ${formatNumber(seen.perSecond, 4)} packets/s; planned ${formatNumber(plan.perSecond, 4)}`,
    ),
    '',
    ...textTable(
      [{ head: 'packets' }, ...right('sent', 'planned')],
      seen.sent.map((s) => [
        s.content,
        formatShare(s.share),
        s.content === 'other' ? '-' : formatShare(share(s.content)),
      ]),
      width,
    ),
    '',
    ...textTable(
      [
        { head: 'address' },
        { head: 'is' },
        ...right('packets', 'mean', 'planned', 'longest', 'planned', 'gap'),
      ],
      seen.addresses.slice(0, 3 * ROWS).map((a) => {
        const p = planned.get(a.addressee)
        return [
          a.name,
          a.addressee === BROADCAST
            ? ''
            : (traffic.locomotives.find((l) => l.addressee === a.addressee)?.name ?? 'not in the fleet'),
          String(a.packets),
          time(a.meanUs),
          p ? time(p.meanUs) : '-',
          a.packets > 1 ? time(a.worstUs) : '-',
          p ? time(p.worstUs) : '-',
          time(a.shortestGapUs),
        ]
      }),
      width,
    ),
  ]
  if (seen.addresses.length > 3 * ROWS) lines.push(`and ${seen.addresses.length - 3 * ROWS} more addresses`)
  const there = new Set(seen.addresses.map((a) => a.addressee))
  const missing = traffic.locomotives.filter((l) => !there.has(l.addressee))
  if (missing.length > 0)
    lines.push(
      ...prose(
        width,
        `Not addressed at all: ${missing
          .slice(0, ROWS)
          .map((l) => l.name)
          .join(', ')}${missing.length > ROWS ? ` and ${missing.length - ROWS} more` : ''}.`,
      ),
    )
  for (const c of seen.changes)
    lines.push(
      ...prose(
        width,
        `${c.changes} changes of ${c.content}: ${c.repeats} quick repeats${c.copyUs.length > 0 ? `, copies follow after ${c.copyUs.map((us) => time(us)).join(', ')}` : ''}.`,
      ),
    )
  return lines
}
