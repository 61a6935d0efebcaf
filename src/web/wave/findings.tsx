/** The whole record as a strip, and the list of what was found in it: filtered by kind, every one within reach. */
import { useMemo, useState } from 'preact/hooks'
import { formatTimeUs } from '../../units/index.js'
import type { WaveRecord } from './record.js'
import type { Span } from './view.js'

export type RecordFinding = WaveRecord['findings'][number]

const BINS = 240

interface StripProps {
  record: WaveRecord
  whole: Span
  span: Span
  goTo(us: number): void
}

/** Where packets are, valid or not, where findings are, and which part is in view. */
export function Overview({ record, whole, span, goTo }: StripProps) {
  const { valid, spoiled } = useMemo(() => binsOf(record, whole), [record])
  const x = (us: number) => (100 * (us - whole.from)) / (whole.to - whole.from)
  const [from, to] = [Math.max(0, x(span.from)), Math.min(100, x(span.to))]
  return (
    <svg
      class="overview"
      viewBox="0 0 100 26"
      preserveAspectRatio="none"
      aria-hidden="true"
      onClick={(event) => {
        const box = event.currentTarget.getBoundingClientRect()
        goTo(whole.from + ((event.clientX - box.left) / box.width) * (whole.to - whole.from))
      }}
    >
      <path class="valid" d={valid} />
      <path class="spoiled" d={spoiled} />
      {record.findings.map((f) => (
        <line class="found" x1={x(f.timeUs)} x2={x(f.timeUs)} y1="17" y2="26" />
      ))}
      <rect class="in-view" x={from} y="0.5" width={Math.max(0.6, to - from)} height="25" />
    </svg>
  )
}

function binsOf(record: WaveRecord, whole: Span): { valid: string; spoiled: string } {
  const good = new Uint8Array(BINS)
  const bad = new Uint8Array(BINS)
  for (let i = 0; i < record.packets; i++) {
    const at = Math.floor((BINS * (record.packetStartUs[i]! - whole.from)) / (whole.to - whole.from))
    const bin = Math.min(BINS - 1, Math.max(0, at))
    if (record.packetValid[i]) good[bin] = 1
    else bad[bin] = 1
  }
  const path = (bins: Uint8Array) => {
    const wide = 100 / BINS
    return [...bins]
      .flatMap((on, i) =>
        on ? [`M${(i * wide).toFixed(2)} 3h${wide.toFixed(2)}v12h-${wide.toFixed(2)}z`] : [],
      )
      .join('')
  }
  return { valid: path(good), spoiled: path(bad) }
}

interface ListProps {
  findings: readonly RecordFinding[]
  /** Found and not listed one by one. */
  more: number
  chosen: RecordFinding | undefined
  choose(finding: RecordFinding): void
}

const SHOWN = 50

export function FindingList({ findings, more, chosen, choose }: ListProps) {
  const [kind, setKind] = useState('')
  const [shown, setShown] = useState(SHOWN)
  if (findings.length === 0)
    return (
      <section class="findings" aria-labelledby="findings-title">
        <h3 id="findings-title">Findings</h3>
        <p class="quiet">Nothing was found outside the limits.</p>
      </section>
    )
  const kinds = new Map<string, number>()
  for (const { clause } of findings) kinds.set(clause, (kinds.get(clause) ?? 0) + 1)
  const wanted = findings.filter((f) => kind === '' || f.clause === kind)
  const at = chosen ? wanted.indexOf(chosen) : -1
  const step = (by: 1 | -1) => {
    const next = at < 0 ? (by > 0 ? 0 : wanted.length - 1) : (at + by + wanted.length) % wanted.length
    if (next >= shown) setShown(next + SHOWN)
    choose(wanted[next]!)
  }
  return (
    <section class="findings" aria-labelledby="findings-title">
      <h3 id="findings-title">
        Findings <span class="quiet">{findings.length + more}</span>
      </h3>
      <div class="acts">
        <label>
          <span class="unseen">Kind of finding</span>
          <select
            value={kind}
            onChange={(event) => {
              setKind((event.currentTarget as HTMLSelectElement).value)
              setShown(SHOWN)
            }}
          >
            <option value="">all kinds, {findings.length}</option>
            {[...kinds].map(([name, count]) => (
              <option value={name}>
                {name}, {count}
              </option>
            ))}
          </select>
        </label>
        <button type="button" onClick={() => step(-1)}>
          Previous<span class="unseen"> finding</span>
        </button>
        <button type="button" onClick={() => step(1)}>
          Next<span class="unseen"> finding</span>
        </button>
        <span class="quiet">{at < 0 ? '' : `${at + 1} of ${wanted.length}`}</span>
      </div>
      <ol class="plain-list finding-list">
        {wanted.slice(0, shown).map((finding) => (
          <li>
            <button type="button" aria-pressed={finding === chosen} onClick={() => choose(finding)}>
              <span class="mono">{formatTimeUs(finding.timeUs, 7)}</span> {finding.clause}
              <span class="quiet">: {finding.text}</span>
            </button>
          </li>
        ))}
      </ol>
      {wanted.length > shown && (
        <button type="button" onClick={() => setShown(shown + SHOWN)}>
          Show {Math.min(SHOWN, wanted.length - shown)} more
        </button>
      )}
      {more > 0 && <p class="quiet">{more} more of the same kinds are counted and not listed.</p>}
    </section>
  )
}
