/** The same station in other builds: the proof of each variant as a row, with the smallest margin of each stage. */
import type { Matrix, MatrixCell } from '../../proof/index.js'
import { StudyRun } from '../parts/going.js'
import { List } from '../parts/list.js'
import { classOf, marginWords, Sign } from '../parts/margin.js'
import { STAGES } from '../stages.js'
import { askedStudy } from '../state/asked-study.js'
import { lastValid, runEvidence } from '../state/consequences.js'
import { fileName } from '../state/design.js'
import { study } from '../worker/callers.js'
import './variants.css'

const proofs = askedStudy((text, options) =>
  study().call('variants', { text, file: fileName.value, runs: [...runEvidence.value.values()] }, options),
)

export function Variants() {
  const names = lastValid.value?.facts?.variants ?? []
  if (names.length === 0) return null
  const matrix = proofs.found.value?.answer
  return (
    <section class="variants" aria-labelledby="variants">
      <h3 id="variants">Variants</h3>
      <p class="quiet">
        The design as written and its {names.length} variants, each proved by itself: {names.join(', ')}.
      </p>
      <StudyRun study={proofs} ask="Prove every variant" what="Proving the variants">
        {matrix && <Table matrix={matrix} />}
      </StudyRun>
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
      <List title="What speaks against each" sentences={troubles} />
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
  const margin = cell.margin === undefined ? '' : marginWords(cell.margin)
  const gaps = cell.notShown.length > 0 ? `; not shown: ${cell.notShown.join(', ')}` : ''
  return (
    <td class={classOf(cell.verdict)} title={`${cell.worst ?? 'nothing shown'}${gaps}`}>
      <Sign verdict={cell.verdict} /> {cell.verdict === 'not shown' && margin ? `(${margin})` : margin}
      <span class="unseen"> {cell.verdict}</span>
      {cell.worst !== undefined && <small class="quiet">{cell.worst}</small>}
    </td>
  )
}
