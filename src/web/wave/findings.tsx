/** The whole record as a strip, and the list of what was found in it: filtered by kind, every one within reach. */
import { useEffect, useMemo, useRef, useState } from 'preact/hooks'
import { formatTimeUs, typeset } from '../../units/index.js'
import { lastValid } from '../state/consequences.js'
import type { WaveRecord } from './record.js'
import type { Span } from './view.js'

/** A number is not parted from its unit. */
const UNIT = /(\d) (?=[a-zµ])/gu

export type RecordFinding = WaveRecord['findings'][number]

const BINS = 500
/** Kinds with a lane of their own, the most frequent first; the others share the last. */
const LANES = 5
const LANE_HEIGHT = 12

/** How many there are of each kind, the most frequent first. */
export function kindsOf(findings: readonly RecordFinding[]): [kind: string, count: number][] {
  const kinds = new Map<string, number>()
  for (const { clause } of findings) kinds.set(clause, (kinds.get(clause) ?? 0) + 1)
  return [...kinds].sort((a, b) => b[1] - a[1])
}

/** As the proof calls the clause. */
export function titleOfKind(kind: string): string {
  return lastValid.value?.proof?.rows.find((row) => row.clause === kind)?.title ?? kind
}

interface StripProps {
  record: WaveRecord
  whole: Span
  span: Span
  goTo(us: number): void
}

/** Where packets are, valid or not, where each kind of finding is, and which part is in view. */
export function Overview({ record, whole, span, goTo }: StripProps) {
  const { packets, lanes } = useMemo(
    () => ({ packets: binsOf(record, whole), lanes: lanesOf(record.findings, whole) }),
    [record],
  )
  const x = (us: number) => (100 * (us - whole.from)) / (whole.to - whole.from)
  const [from, to] = [Math.max(0, x(span.from)), Math.min(100, x(span.to))]
  const height = 26 + LANE_HEIGHT * lanes.length
  return (
    <div class="overview">
      {lanes.length > 0 && (
        <div class="lane-names" aria-hidden="true">
          <span>packets</span>
          {lanes.map(({ name }) => (
            <span>{titleOfKind(name)}</span>
          ))}
        </div>
      )}
      <svg
        viewBox={`0 0 100 ${height}`}
        preserveAspectRatio="none"
        height={height}
        aria-hidden="true"
        onPointerDown={(event) => event.currentTarget.setPointerCapture(event.pointerId)}
        onPointerMove={(event) => event.buttons === 1 && goTo(timeUnder(event, whole))}
        onClick={(event) => goTo(timeUnder(event, whole))}
      >
        <path class="valid" d={packets.valid} />
        <path class="spoiled" d={packets.spoiled} />
        {lanes.map(({ path }, i) => (
          <path class="found" transform={`translate(0 ${24 + i * LANE_HEIGHT})`} d={path} />
        ))}
        <rect class="in-view" x={from} y="0.5" width={Math.max(0.6, to - from)} height={height - 1} />
      </svg>
    </div>
  )
}

function timeUnder(event: MouseEvent, whole: Span): number {
  const box = (event.currentTarget as Element).getBoundingClientRect()
  return whole.from + ((event.clientX - box.left) / box.width) * (whole.to - whole.from)
}

/** Bins that are set, as upright bars of this height: neighbours run together. */
function bars(bins: Uint8Array, top: number, height: number): string {
  const wide = 100 / BINS
  const path: string[] = []
  for (let i = 0; i < BINS; i++) {
    if (!bins[i]) continue
    const start = i
    while (i + 1 < BINS && bins[i + 1]) i++
    const across = ((i + 1 - start) * wide).toFixed(2)
    path.push(`M${(start * wide).toFixed(2)} ${top}h${across}v${height}h-${across}z`)
  }
  return path.join('')
}

const binOf = (us: number, whole: Span) =>
  Math.min(BINS - 1, Math.max(0, Math.floor((BINS * (us - whole.from)) / (whole.to - whole.from))))

function binsOf(record: WaveRecord, whole: Span): { valid: string; spoiled: string } {
  const good = new Uint8Array(BINS)
  const bad = new Uint8Array(BINS)
  for (let i = 0; i < record.packets; i++) {
    const bin = binOf(record.packetStartUs[i]!, whole)
    if (record.packetValid[i]) good[bin] = 1
    else bad[bin] = 1
  }
  return { valid: bars(good, 3, 16), spoiled: bars(bad, 3, 16) }
}

function lanesOf(findings: readonly RecordFinding[], whole: Span): { name: string; path: string }[] {
  const kinds = kindsOf(findings)
  const own = kinds.slice(0, kinds.length > LANES ? LANES - 1 : LANES).map(([kind]) => kind)
  const names = kinds.length > LANES ? [...own, `${kinds.length - own.length} other kinds`] : own
  const bins = names.map(() => new Uint8Array(BINS))
  for (const { clause, timeUs } of findings) {
    const at = own.indexOf(clause)
    bins[at < 0 ? names.length - 1 : at]![binOf(timeUs, whole)] = 1
  }
  return names.map((name, i) => ({ name, path: bars(bins[i]!, 2, LANE_HEIGHT - 5) }))
}

interface ListProps {
  findings: readonly RecordFinding[]
  hasPackets: boolean
  /** Found and not listed one by one. */
  more: number
  chosen: RecordFinding | undefined
  choose(finding: RecordFinding): void
}

/** Rows are alike in height, so that of ten thousands only those in view are drawn. */
const ROW = 38
const AROUND = 6

export function FindingList({ findings, hasPackets, more, chosen, choose }: ListProps) {
  const [hidden, setHidden] = useState<ReadonlySet<string>>(new Set())
  const [top, setTop] = useState(0)
  const list = useRef<HTMLOListElement>(null)
  const kinds = useMemo(() => kindsOf(findings), [findings])
  const wanted = useMemo(() => findings.filter((f) => !hidden.has(f.clause)), [findings, hidden])
  const at = chosen ? wanted.indexOf(chosen) : -1
  useEffect(() => setHidden(new Set()), [findings])
  // The chosen one is brought into view, whoever chose it.
  useEffect(() => {
    const element = list.current
    if (!element || at < 0) return
    if (at * ROW < element.scrollTop || (at + 1) * ROW > element.scrollTop + element.clientHeight)
      element.scrollTop = Math.max(0, at * ROW - element.clientHeight / 3)
  }, [at])
  if (findings.length === 0)
    return (
      <section class="findings" aria-labelledby="findings-title">
        <h3 id="findings-title">Findings</h3>
        <p class="quiet">
          {hasPackets
            ? 'Nothing was found outside the limits.'
            : 'No packet was read, so there was nothing to judge.'}
        </p>
      </section>
    )
  const step = (by: 1 | -1) => {
    if (wanted.length === 0) return
    choose(wanted[at < 0 ? (by > 0 ? 0 : wanted.length - 1) : (at + by + wanted.length) % wanted.length]!)
  }
  const first = Math.max(0, Math.floor(top / ROW) - AROUND)
  const last = Math.min(wanted.length, Math.ceil((top + 600) / ROW) + AROUND)
  return (
    <section class="findings" aria-labelledby="findings-title">
      <h3 id="findings-title">
        Findings{' '}
        <span class="quiet">
          {findings.length + more} of {kinds.length === 1 ? 'one kind' : `${kinds.length} kinds`}
        </span>
      </h3>
      <div class="kinds" role="group" aria-label="Kinds of findings">
        {kinds.map(([kind, count]) => (
          <button
            type="button"
            aria-pressed={!hidden.has(kind)}
            onClick={() => {
              const next = new Set(hidden)
              if (!next.delete(kind)) next.add(kind)
              setHidden(next)
              setTop(0)
              if (list.current) list.current.scrollTop = 0
            }}
          >
            {titleOfKind(kind)} <span class="count">{count}</span>
          </button>
        ))}
        {kinds.length > 1 && (
          <button
            type="button"
            class="link"
            onClick={() => setHidden(new Set(hidden.size > 0 ? [] : kinds.map(([k]) => k)))}
          >
            {hidden.size > 0 ? 'show all' : 'hide all'}
          </button>
        )}
      </div>
      <div class="acts">
        <button type="button" disabled={wanted.length === 0} onClick={() => step(-1)}>
          Previous<span class="unseen"> finding</span>
        </button>
        <span class="quiet" aria-live="polite">
          {at < 0 ? `${wanted.length} shown` : `${at + 1} of ${wanted.length}`}
        </span>
        <button type="button" disabled={wanted.length === 0} onClick={() => step(1)}>
          Next<span class="unseen"> finding</span>
        </button>
      </div>
      <ol
        class="plain-list finding-list"
        ref={list}
        tabIndex={0}
        aria-label="Findings in the order of time"
        onScroll={(event) => setTop(event.currentTarget.scrollTop)}
      >
        <li class="spacer" aria-hidden="true" style={{ height: `${first * ROW}px` }} />
        {wanted.slice(first, last).map((finding, i) => (
          <li key={first + i} aria-setsize={wanted.length} aria-posinset={first + i + 1}>
            <button type="button" aria-pressed={finding === chosen} onClick={() => choose(finding)}>
              <span class="mono">{formatTimeUs(finding.timeUs, 7)}</span> {titleOfKind(finding.clause)}
              <span class="quiet">: {typeset(finding.text).replace(UNIT, '$1\u00a0')}</span>
            </button>
          </li>
        ))}
        <li class="spacer" aria-hidden="true" style={{ height: `${(wanted.length - last) * ROW}px` }} />
      </ol>
      {more > 0 && (
        <p class="quiet">
          {more} more of the same kinds are counted and not listed. Read a shorter stretch of the file to list
          them.
        </p>
      )}
    </section>
  )
}
