/** Two designs, firmware builds or captures side by side. */
import { useEffect, useState } from 'preact/hooks'
import {
  CHANGE_SIGN,
  type ComparedRow,
  type Comparison,
  comparedLimits,
  comparedName,
  comparisonText,
  figureChange,
  figureText,
  type SideCell,
} from '../../proof/index.js'
import { formatTimeUs, parseQuantity } from '../../units/index.js'
import { download } from '../parts/download.js'
import { Drop } from '../parts/drop.js'
import { EmptyFigure } from '../parts/empty-figure.js'
import { Drawing } from '../parts/figure.js'
import { classOf, marginWords, Sign } from '../parts/margin.js'
import { usePrinted } from '../parts/printed.js'
import { useNarrow } from '../parts/size.js'
import {
  choices,
  chosenSides,
  readFault,
  reading,
  type SideName,
  sourceOf,
  takeFile,
} from '../state/compare.js'
import { lastValid } from '../state/consequences.js'
import { study } from '../worker/callers.js'
import type { CompareForm, StudyCalls } from '../worker/study-calls.js'
import './compare.css'

type Answer = StudyCalls['compare']['gives']

export function CompareView() {
  const { a, b } = chosenSides.value
  const left = sourceOf(a)
  const right = sourceOf(b)
  const [answer, setAnswer] = useState<Answer | undefined>(undefined)
  const [fault, setFault] = useState('')
  const [only, setOnly] = useState(true)
  const [pending, setPending] = useState(true)
  const isNarrow = useNarrow()
  useEffect(() => {
    if (!left || !right) return
    let old = false
    setPending(true)
    // Who types quickly is not answered letter by letter.
    const timer = setTimeout(() => {
      study()
        .call('compare', { a: left, b: right, isNarrow })
        .then(
          (found) => {
            if (old) return
            setAnswer(found)
            setFault('')
            setPending(false)
          },
          (error: Error) => {
            if (old) return
            // What was found of other sides says nothing about these.
            setAnswer(undefined)
            setFault(error.message)
            setPending(false)
          },
        )
    }, 60)
    return () => {
      old = true
      clearTimeout(timer)
    }
  }, [a, b, left?.text, right?.text, left?.runs.length, right?.runs.length, isNarrow])
  return (
    <div class="compare">
      <div class="sides-of">
        <Side side="a" />
        <Side side="b" />
      </div>
      {reading.value && (
        <div class="going">
          <label>
            <span>{reading.value.what}</span>
            <progress max={1} value={reading.value.share} />
          </label>
          <span class="mono">{reading.value.says}</span>
          <button type="button" onClick={reading.value.stop}>
            Stop
          </button>
        </div>
      )}
      {readFault.value && <p class="notice broken">✗ {readFault.value}</p>}
      {fault && <p class="notice broken">✗ {fault}</p>}
      {pending && (
        <p class="quiet" role="status">
          ◔ Comparing …{answer ? ' The results below are for the previous choice.' : ''}
        </p>
      )}
      {answer && <Found answer={answer} only={only} setOnly={setOnly} />}
    </div>
  )
}

const NARROW_PX = 900
const GROUPS = ['this design', 'earlier states', 'runs, captures and other designs'] as const

function Side({ side }: { side: SideName }) {
  const name = side.toUpperCase()
  const facts = lastValid.value?.facts
  const planned = facts?.firmware?.runForUs
  const [forText, setForText] = useState(planned === undefined ? '5 s' : formatTimeUs(planned))
  const wanted = parseQuantity(forText, 'time')
  const wrong = !wanted.ok || wanted.value < 1000 || wanted.value > 3600e6
  return (
    <fieldset>
      <legend>{name}</legend>
      <div class="field">
        <label for={`side-${side}`}>What {name} is</label>
        <select
          id={`side-${side}`}
          value={chosenSides.value[side]}
          onChange={(event) => {
            const id = (event.currentTarget as HTMLSelectElement).value
            chosenSides.value = { ...chosenSides.value, [side]: id }
          }}
        >
          {GROUPS.map((group) => {
            const list = choices.value.filter((c) => c.group === group)
            return list.length === 0 ? null : (
              <optgroup label={group}>
                {list.map((c) => (
                  <option value={c.id}>{c.label}</option>
                ))}
              </optgroup>
            )
          })}
        </select>
      </div>
      {/* On a phone what changed comes first: choosing a file is folded away. */}
      <details open={globalThis.innerWidth >= NARROW_PX}>
        <summary>From a file</summary>
        <Drop
          label={`Choose a file for ${name}`}
          hint="a design, HEX or ELF to run, or a capture; or drop it here"
          disabled={wrong}
          onFile={(file) => wanted.ok && void takeFile(side, file, wanted.value)}
        />
        {facts?.simulated && (
          <div class="field">
            <label for={`for-${side}`}>Run firmware for</label>
            <input
              id={`for-${side}`}
              value={forText}
              aria-invalid={wrong}
              aria-describedby={wrong ? `for-${side}-fault` : undefined}
              onInput={(event) => setForText((event.currentTarget as HTMLInputElement).value)}
            />
            {wrong && (
              <p class="broken" id={`for-${side}-fault`}>
                ✗ expected 1 ms to 1 h, such as 5 s
              </p>
            )}
          </div>
        )}
      </details>
    </fieldset>
  )
}

function Found({
  answer: { comparison, figures },
  only,
  setOnly,
}: {
  answer: Answer
  only: boolean
  setOnly(only: boolean): void
}) {
  const rows = comparison.rows.filter((row) => (only ? row.change !== 'same' : row.a || row.b))
  const numbers = comparison.figures.filter((f) => !only || f.change !== 'same')
  const source = `${comparison.a.label} (A) and ${comparison.b.label} (B), by Halfbit ${comparison.version}`
  return (
    <>
      <p class="whole" role="status">
        {comparisonText(comparison)}
      </p>
      <div class="tools">
        <label class="check">
          <input
            type="checkbox"
            checked={only}
            onChange={(event) => setOnly((event.currentTarget as HTMLInputElement).checked)}
          />{' '}
          Only differences
        </label>
        <Exports comparison={comparison} drawings={figures.map((f) => f.svg)} only={only} />
      </div>
      {rows.length > 0 ? (
        <div class="wide" tabIndex={0} role="region" aria-label="Clause by clause, A and B">
          <table class="matrix">
            <caption>
              A is {comparison.a.label}; B is {comparison.b.label}. The figure is the margin: 1 in the centre
              of the window, 0 at its limit; ring: A, disc: B.
            </caption>
            <thead>
              <tr>
                <th scope="col">Clause</th>
                <th scope="col">A</th>
                <th scope="col">B</th>
                <th scope="col" class="margins">
                  <span class="scale-names">
                    <span>0, limit</span>
                    <span>centre, 1</span>
                  </span>
                  <span class="unseen">: margins of A and B</span>
                </th>
                <th scope="col">B vs. A</th>
              </tr>
            </thead>
            <tbody>
              {rows.map((row) => (
                <tr key={comparedName(row)} class={row.change === 'same' ? undefined : 'differs'}>
                  <th scope="row">
                    {row.title}
                    {row.about !== undefined && <span class="quiet"> ({row.about})</span>}
                    <small class="quiet">
                      {[comparedLimits(row), row.source].filter(Boolean).join('; ')}
                    </small>
                  </th>
                  <Cell cell={row.a} />
                  <Cell cell={row.b} />
                  <td>
                    <Margins a={row.a} b={row.b} tone={toneOf(row.change)} />
                  </td>
                  <td class={`change ${toneOf(row.change)}`}>
                    <span aria-hidden="true">{CHANGE_SIGN[row.change]}</span> {row.change}
                    {row.unshared.map((words) => (
                      <small class="quiet">{words}</small>
                    ))}
                  </td>
                </tr>
              ))}
            </tbody>
          </table>
        </div>
      ) : (
        <EmptyFigure title={only ? 'No differences' : 'Nothing is shown'}>
          {only
            ? 'No clause differs. Change a number of the design, or choose a file for A or B; untick “Only differences” to see every clause.'
            : 'Neither side shows any clause.'}
        </EmptyFigure>
      )}
      {comparison.figures.length > 0 && (
        <div class="wide" tabIndex={0} role="region" aria-label="Figures of both">
          <table>
            <caption>Figures of the signal and the run{numbers.length === 0 ? ': none differs' : ''}</caption>
            <thead>
              <tr>
                <th scope="col">Figure</th>
                <th scope="col" class="right">
                  A
                </th>
                <th scope="col" class="right">
                  B
                </th>
                <th scope="col" class="right">
                  B minus A
                </th>
              </tr>
            </thead>
            <tbody>
              {numbers.map((f) => (
                <tr>
                  <th scope="row">
                    {f.name}
                    {f.about !== undefined && <span class="quiet"> ({f.about})</span>}
                  </th>
                  <td class="right">{figureText(f.a, f.unit)}</td>
                  <td class="right">{figureText(f.b, f.unit)}</td>
                  <td class="right">{f.change === 'same' ? 'same' : figureChange(f) || f.change}</td>
                </tr>
              ))}
            </tbody>
          </table>
        </div>
      )}
      <div class="drawings">
        {figures.map((figure) => (
          <Drawing key={figure.name} figure={figure} source={source} />
        ))}
      </div>
      <Notes comparison={comparison} />
    </>
  )
}

function Notes({ comparison }: { comparison: Comparison }) {
  const notes = (['a', 'b'] as const).flatMap((k) =>
    comparison[k].notes.map((note) => `${k.toUpperCase()}: ${note.sentence}`),
  )
  return notes.length === 0 ? null : (
    <section>
      <h3>Notes</h3>
      <ul class="sentences">
        {notes.map((note) => (
          <li>{note}</li>
        ))}
      </ul>
    </section>
  )
}

function toneOf(change: ComparedRow['change']): string {
  if (change === 'worse' || change === 'less margin') return 'broken'
  return change === 'better' || change === 'more margin' ? 'met' : ''
}

/** The margin of A as a ring, that of B as a disc, and the way from one to the other; below 0 is left of the limit. */
function Margins({ a, b, tone }: { a: SideCell | undefined; b: SideCell | undefined; tone: string }) {
  const x = (margin: number) => 22 + 150 * Math.min(1, Math.max(-0.12, margin))
  return (
    <svg class={`margins ${tone}`} viewBox="0 0 180 20" width="180" height="20" aria-hidden="true">
      <line class="scale" x1={x(0)} x2={x(1)} y1="10" y2="10" />
      <line class="rim" x1={x(0)} x2={x(0)} y1="3" y2="17" />
      <line class="rim" x1={x(1)} x2={x(1)} y1="5" y2="15" />
      {a && b && <line class="way" x1={x(a.margin)} x2={x(b.margin)} y1="10" y2="10" />}
      {a && <circle class="of-a" cx={x(a.margin)} cy="10" r="5.5" />}
      {b && <circle class="of-b" cx={x(b.margin)} cy="10" r="3.5" />}
    </svg>
  )
}

function Cell({ cell }: { cell: SideCell | undefined }) {
  return (
    <td>
      {cell ? (
        <>
          <span class={classOf(cell.verdict)}>
            <Sign verdict={cell.verdict} /> {cell.verdict} {marginWords(cell.margin)}
          </span>
          <small class="quiet">
            {cell.value}, {cell.origin}
          </small>
        </>
      ) : (
        <span class="quiet">not shown</span>
      )}
    </td>
  )
}

const FORMS: { form: CompareForm; says: string; type: string }[] = [
  { form: 'html', says: 'HTML', type: 'text/html' },
  { form: 'md', says: 'Markdown', type: 'text/markdown' },
  { form: 'json', says: 'JSON', type: 'application/json' },
]

function Exports({
  comparison,
  drawings,
  only,
}: {
  comparison: Comparison
  drawings: string[]
  only: boolean
}) {
  const exported = (form: CompareForm) =>
    study().call('exportComparison', { comparison, drawings, form, onlyDifferences: only })
  const printReport = usePrinted(() => exported('html'), [comparison, only])
  return (
    <div class="acts" role="group" aria-label="Export the comparison">
      {FORMS.map(({ form, says, type }) => (
        <button
          type="button"
          onClick={async () => download(`comparison.${form}`, await exported(form), type)}
        >
          {says}
        </button>
      ))}
      <button type="button" onClick={() => void printReport()}>
        Print or PDF
      </button>
    </div>
  )
}
