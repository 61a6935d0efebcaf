/** Beside a clause of the power stage: the corner that decides it, the share of builds that meet it, and what matters most. */
import { signal } from '@preact/signals'
import { useEffect } from 'preact/hooks'
import type { CornerReport } from '../../power/index.js'
import type { Row } from '../../proof/index.js'
import { formatNumber, formatShare } from '../../units/index.js'
import { lastValidText } from '../state/consequences.js'
import { study } from '../worker/callers.js'

/** For one text at a time; it outlives the view. */
const found = signal<{ of: string; corners: readonly CornerReport[] } | undefined>(undefined)
/** Kept quiet while someone types. */
const AFTER_MS = 600

/** Clauses that the power stage searches corners for. */
const CLAUSES: readonly Row['clause'][] = ['short-trip', 'sense-stress', 'inrush', 'fuse', 'driver-heat']

export function WhatDecides({ row }: { row: Row }) {
  const text = lastValidText.value
  const isAsked = CLAUSES.includes(row.clause)
  useEffect(() => {
    if (!isAsked || text === '' || found.value?.of === text) return
    const timer = setTimeout(() => {
      study()
        .call('corners', { text })
        .then(
          (corners) => {
            found.value = { of: text, corners }
          },
          // What it is about is said at its clause already.
          () => {},
        )
    }, AFTER_MS)
    return () => clearTimeout(timer)
  }, [text, isAsked])
  if (!isAsked) return null
  if (found.value?.of !== text) return <p class="quiet">◔ Finding out what decides this …</p>
  const corner = found.value.corners.find((c) => c.clause === row.clause && c.about === row.about)
  return corner ? <Corner corner={corner} /> : null
}

function Corner({ corner: { corner, yield: drawn, tornado } }: { corner: CornerReport }) {
  const most = Math.max(1e-9, ...tornado.map((t) => Math.abs(t.atHigh - t.atLow)))
  const spreads = tornado.filter((t) => Math.abs(t.atHigh - t.atLow) > 0.001 * most).slice(0, 5)
  return (
    <section class="decides" aria-label="What decides it">
      {drawn && (
        <p>
          <strong>{formatShare(drawn.share)}</strong> of {drawn.builds} builds drawn at random meet it{' '}
          <span class="quiet">
            ({formatShare(drawn.low)} to {formatShare(drawn.high)} with 95 % confidence)
          </span>
        </p>
      )}
      {corner !== '' && (
        <p>
          Worst with <span>{corner}</span>.
        </p>
      )}
      {spreads.length > 0 && (
        <table>
          <caption>What moves the margin most</caption>
          <tbody>
            {spreads.map((t) => (
              <tr key={t.quantity} title={t.source}>
                <th scope="row">{t.quantity}</th>
                <td>
                  {formatNumber(t.low, 3)} to {formatNumber(t.high, 3)} {t.unit}
                </td>
                <td>
                  <svg class="swing" viewBox="0 0 100 10" width="80" height="10" aria-hidden="true">
                    <rect
                      x="0"
                      y="2"
                      height="6"
                      width={Math.max(1.5, (100 * Math.abs(t.atHigh - t.atLow)) / most)}
                    />
                  </svg>
                  <span class="unseen">
                    margin {formatNumber(t.atLow, 3)} to {formatNumber(t.atHigh, 3)}
                  </span>
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      )}
    </section>
  )
}
