/** The statements behind a clause. */
import {
  countText,
  evidenceOf,
  ORIGINS,
  placeText,
  type Row,
  reasonsNotShown,
  sentence,
  valueText,
} from '../../proof/index.js'
import type { Evidence } from '../../standard/index.js'
import { capital } from '../../units/index.js'
import { showLine } from '../edit/pane-state.js'
import { fileName } from '../state/design.js'
import { go } from '../state/route.js'
import { chosenReading, readingOf, wantedTime } from '../state/runs.js'
import { wantedSection } from '../state/selection.js'

/** With a capital, unless it begins with a name that has none. */
function asSentence(because: string): string {
  return /^[a-z]+[ ,]/u.test(because) ? capital(sentence(because)) : sentence(because)
}

/** Statements that say the same, such as those of several scenarios, once; the first has the place. */
function alike(list: readonly Evidence[]): { e: Evidence; times: number }[] {
  const found = new Map<string, { e: Evidence; times: number }>()
  for (const e of list) {
    const says = `${valueText(e)}\n${e.because}\n${placeText(e)}`
    const had = found.get(says)
    if (had) had.times++
    else found.set(says, { e, times: 1 })
  }
  return [...found.values()]
}

/** Every statement with its reason and the place it came from. */
export function Reasons({ row, origin }: { row: Row; origin?: (typeof ORIGINS)[number] }) {
  return (
    <div class="reasons">
      <p>
        {row.demand} <span class="quiet">{row.source}.</span>
      </p>
      {ORIGINS.filter((o) => origin === undefined || o === origin).map((o) =>
        alike(evidenceOf(row.cells[o])).map(({ e, times }) => (
          <p>
            <strong>{o}</strong>: {valueText(e)}. {asSentence(e.because)}{' '}
            <span class="quiet">
              {[countText(e), placeText(e), times > 1 ? `the same ${times} times` : '']
                .filter(Boolean)
                .join('; ')}
            </span>{' '}
            {e.where?.line !== undefined && e.where.file === fileName.value && (
              <button type="button" class="link" onClick={() => showLine(e.where!.line!)}>
                Show line {e.where.line}
              </button>
            )}{' '}
            {e.where?.section !== undefined && (
              <button
                type="button"
                class="link"
                onClick={() => {
                  wantedSection.value = e.where!.section
                  go('track')
                }}
              >
                Show on the map<span class="unseen">: {e.where.section}</span>
              </button>
            )}{' '}
            {readingOf(e) && (
              <button
                type="button"
                class="link"
                onClick={() => {
                  chosenReading.value = readingOf(e)!.key
                  wantedTime.value = e.where!.timeUs
                  go('waveform')
                }}
              >
                Show it in the waveform
              </button>
            )}
          </p>
        )),
      )}
      {reasonsNotShown(row)
        .filter((r) => origin === undefined || r.origin === undefined || r.origin === origin)
        .map((r) => (
          <p>
            <strong>{r.origin ?? 'not shown'}</strong>: {r.origin === undefined ? '' : 'not shown, '}
            {r.because}.
          </p>
        ))}
    </div>
  )
}
