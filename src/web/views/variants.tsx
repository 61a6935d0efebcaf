/** The same station in other builds: the proof of each variant as a row, with the smallest margin of each stage. */
import { signal } from '@preact/signals'
import { type Matrix, type MatrixCell, marginText } from '../../proof/index.js'
import { List } from '../parts/list.js'
import { classOf, Sign } from '../parts/margin.js'
import { STAGES } from '../stages.js'
import { lastValid, lastValidText, runEvidence } from '../state/consequences.js'
import { fileName } from '../state/design.js'
import { study } from '../worker/callers.js'
import './variants.css'

// They live on when the view changes.
const going = signal<{ share: number; says: string; stop(): void } | undefined>(undefined)
const found = signal<{ matrix: Matrix; of: string } | undefined>(undefined)
const fault = signal('')

async function run(): Promise<void> {
  const stop = new AbortController()
  const text = lastValidText.value
  fault.value = ''
  going.value = { share: 0, says: 'loading …', stop: () => stop.abort() }
  try {
    const matrix = await study().call(
      'variants',
      { text, file: fileName.value, runs: [...runEvidence.value.values()] },
      {
        signal: stop.signal,
        progress: (share, says) => {
          if (going.value) going.value = { ...going.value, share, says }
        },
      },
    )
    if (matrix) found.value = { matrix, of: text }
  } catch (error) {
    fault.value = error instanceof Error ? error.message : String(error)
  } finally {
    going.value = undefined
  }
}

export function Variants() {
  const names = lastValid.value?.facts?.variants ?? []
  if (names.length === 0) return null
  const answer = found.value
  return (
    <section class="variants" aria-labelledby="variants">
      <h3 id="variants">Variants</h3>
      <p class="quiet">
        The design as written and its {names.length} variants, each proved by itself: {names.join(', ')}.
      </p>
      {going.value ? (
        <div class="going">
          <label>
            <span>Proving the variants</span>
            <progress max={1} value={going.value.share} />
          </label>
          <span class="mono">{going.value.says}</span>
          <button type="button" onClick={going.value.stop}>
            Stop
          </button>
        </div>
      ) : (
        <button type="button" class={answer ? undefined : 'main'} onClick={() => void run()}>
          {answer ? 'Prove every variant again' : 'Prove every variant'}
        </button>
      )}
      {fault.value && <p class="notice broken">✗ {fault.value}</p>}
      {answer && (
        <>
          {answer.of !== lastValidText.value && (
            <p class="notice">The design has changed since; these are the previous results.</p>
          )}
          <Table matrix={answer.matrix} />
        </>
      )}
    </section>
  )
}

const STAGE_TITLE = new Map<string, string>([
  ...STAGES.map(({ id, title }) => [id, title] as const),
  ['record', 'Waveform'],
])

function Table({ matrix }: { matrix: Matrix }) {
  const { columns, rows } = matrix
  const troubles = rows.flatMap(({ variant, troubles, missing }) => [
    ...troubles.map((t) => `${variant}: ${t.clause} ${t.verdict}, ${t.value}. ${t.because}`),
    ...missing.map((m) => `${variant}: required, and not shown: ${m}`),
  ])
  return (
    <>
      <p class="conclusion">{matrix.choice.sentence}.</p>
      <div class="wide" tabIndex={0} role="region" aria-label="Variants by stage">
        <table class="variants-table">
          <caption>
            The figure is the smallest margin: 1 in the centre of the window, 0 at its limit. In brackets that
            of what is shown, where a clause of the stage is not shown. Firmware of other builds is not run
            here: “halfbit matrix” runs it.
          </caption>
          <thead>
            <tr>
              <th scope="col">variant</th>
              <th scope="col">whole</th>
              {columns.map((c) => (
                <th scope="col">{STAGE_TITLE.get(c) ?? c}</th>
              ))}
            </tr>
          </thead>
          <tbody>
            {rows.map((row) => (
              <tr key={row.variant}>
                <th scope="row">
                  {row.variant}
                  {row.suits !== undefined && <small class="quiet">for {row.suits}</small>}
                </th>
                <td class={classOf(row.verdict)} title={row.finding.sentence}>
                  <Sign verdict={row.verdict} /> {countsOf(row.counts)}
                </td>
                {columns.map((c) => (
                  <Cell cell={row.cells[c]} />
                ))}
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      <List title="Which to choose" sentences={rows.map((row) => `${row.finding.sentence}.`)} />
      <List title="What breaks" sentences={troubles} />
    </>
  )
}

function countsOf(counts: MatrixCell['counts']): string {
  return (['broken', 'undecided', 'not shown', 'met'] as const)
    .filter((verdict) => counts[verdict] > 0)
    .map((verdict) => `${counts[verdict]} ${verdict}`)
    .join(', ')
}

function Cell({ cell }: { cell: MatrixCell | undefined }) {
  if (!cell)
    return (
      <td class="quiet" title="no clause of this stage applies">
        –
      </td>
    )
  const margin = cell.margin === undefined ? '' : marginText(cell.margin)
  const gaps = cell.notShown.length > 0 ? `; not shown: ${cell.notShown.join(', ')}` : ''
  return (
    <td class={classOf(cell.verdict)} title={`${cell.worst ?? 'nothing shown'}${gaps}`}>
      <Sign verdict={cell.verdict} /> {cell.verdict === 'not shown' && margin ? `(${margin})` : margin}
      <span class="unseen"> {cell.verdict}</span>
      {cell.worst !== undefined && <small class="quiet">{cell.worst}</small>}
    </td>
  )
}
