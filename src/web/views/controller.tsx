/** The controller: the windows of the half-bits, the ways to make them, the header, and the firmware's run. */
import { useState } from 'preact/hooks'
import { formatShare } from '../../units/index.js'
import { StageBody } from '../parts/stage-body.js'
import { stageBy } from '../stages.js'
import { lastValid, staleNote } from '../state/consequences.js'
import { setValue } from '../state/values.js'
import type { TimerDetails, TimersAnswer } from '../worker/calls.js'
import { useDesk } from './ask.js'
import { FirmwareRun } from './firmware.js'
import { HalfBits } from './half-bit.js'
import { LateList } from './late-interrupts.js'

export function ControllerView() {
  const outputs = lastValid.value?.facts?.outputs ?? []
  const [name, setName] = useState<string | undefined>(undefined)
  const output = outputs.find((o) => o.name === name) ?? outputs[0]
  if (!output) return null
  return (
    <StageBody stage={stageBy('controller')}>
      {outputs.length > 1 && (
        <div class="switch" role="group" aria-label="Output">
          {outputs.map((o) => (
            <button type="button" aria-pressed={o === output} onClick={() => setName(o.name)}>
              {o.name}
            </button>
          ))}
        </div>
      )}
      <HalfBits output={output} />
      <LateList output={output.name} />
      <FirmwareRun />
      <Timers output={output.name} />
    </StageBody>
  )
}

function Timers({ output }: { output: string }) {
  const [pick, setPick] = useState<string | undefined>(undefined)
  const [all, setAll] = useState(false)
  const { answer, fault } = useDesk('timers', (text) => ({ text, track: output, pick }), [output, pick])
  return (
    <section aria-labelledby="timers">
      <h3 id="timers">Timer configurations</h3>
      {fault && <p class="notice broken">{fault}</p>}
      {!answer && !fault && <p class="quiet">Searching …</p>}
      {answer && <TimerTable answer={answer} all={all} pick={pick} onPick={setPick} />}
      {answer && answer.rows.length > 8 && (
        <button type="button" onClick={() => setAll(!all)}>
          {all ? 'Show the best eight' : `Show all ${answer.rows.length}`}
        </button>
      )}
      {answer?.chosen && (
        <Details details={answer.chosen} isChoice={answer.chosen.id === answer.choice} output={output} />
      )}
      {answer && (answer.refused.length > 0 || answer.unusableModes.length > 0) && (
        <details>
          <summary>Rejected configurations, and why</summary>
          <ul class="sentences">
            {answer.refused.map((r) => (
              <li>
                {r.way}: {r.why}
              </li>
            ))}
            {answer.unusableModes.map((t) => (
              <li>
                {t.timers}: {t.says}: {t.why}
              </li>
            ))}
          </ul>
        </details>
      )}
    </section>
  )
}

interface TableProps {
  answer: TimersAnswer
  all: boolean
  pick: string | undefined
  onPick(id: string | undefined): void
}

function TimerTable({ answer, all, pick, onPick }: TableProps) {
  const rows = all ? answer.rows : answer.rows.slice(0, 8)
  if (rows.length === 0) return <p>No timer of this controller can make this signal with this clock.</p>
  return (
    <div class="wide" tabIndex={0} role="region" aria-label="Timer configurations, best first">
      <table>
        <caption>
          Best first: by the margin to the limits, then by how late an interrupt may be, then by what a miss
          does.
        </caption>
        <thead>
          <tr>
            <th scope="col">Way</th>
            <th scope="col">Timer: pins</th>
            <th scope="col" class="right">
              Divider
            </th>
            <th scope="col" class="right">
              One
            </th>
            <th scope="col" class="right">
              Zero
            </th>
            <th scope="col" class="right">
              Room
            </th>
            <th scope="col" class="right">
              Allowed latency
            </th>
            <th scope="col">Effect of a missed deadline</th>
            <th scope="col" class="right">
              CPU
            </th>
            <th scope="col">
              <span class="unseen">Details</span>
            </th>
          </tr>
        </thead>
        <tbody>
          {rows.map((row) => (
            <tr class={row.isChoice ? 'chosen' : undefined}>
              <th scope="row">
                {row.way}
                {row.isChoice && <small class="quiet">the design’s choice</small>}
              </th>
              <td>{row.places}</td>
              <td class="right">{row.divider}</td>
              <td class="right">{row.one}</td>
              <td class="right">{row.zero}</td>
              <td class="right">{formatShare(row.headroom, 2)}</td>
              <td class="right">{row.late}</td>
              <td>{row.miss}</td>
              <td class="right">{row.cpu}</td>
              <td>
                <button
                  type="button"
                  aria-pressed={pick === row.id}
                  onClick={() => onPick(pick === row.id ? undefined : row.id)}
                >
                  Details
                  <span class="unseen">
                    {' '}
                    of {row.way}, divider {row.divider}
                  </span>
                </button>
              </td>
            </tr>
          ))}
        </tbody>
      </table>
    </div>
  )
}

function Details({
  details,
  isChoice,
  output,
}: {
  details: TimerDetails
  isChoice: boolean
  output: string
}) {
  // What is copied of an older design says so.
  const header = [staleNote.value && `/* ${staleNote.value} */`, details.header].filter(Boolean).join('\n')
  const [copied, setCopied] = useState('')
  const use = () => {
    const { method, timer, prescaler, pin, inverted } = details.set
    const path = ['signal', 'outputs', output]
    setValue([...path, 'method'], method)
    setValue([...path, 'timer'], timer)
    setValue([...path, 'prescaler'], prescaler)
    setValue([...path, 'pin'], pin)
    setValue([...path, 'inverted'], inverted)
  }
  return (
    <section class="card" aria-label="Registers">
      <h4>{details.mode}</h4>
      <p>
        {details.because}{' '}
        <span class="quiet">
          Status of this timer’s data: {details.status}. Takes {details.occupies.join('; ')}.
        </span>
      </p>
      {!isChoice && (
        <button type="button" onClick={use}>
          Use it in the design
        </button>
      )}
      <div class="wide" tabIndex={0} role="region" aria-label="Register values">
        <table>
          <thead>
            <tr>
              <th scope="col">Register</th>
              <th scope="col">Value</th>
              <th scope="col">For</th>
            </tr>
          </thead>
          <tbody>
            {details.settings.map((s) => (
              <tr>
                <th scope="row">
                  <code>{s.register}</code>
                </th>
                <td>
                  <code>{s.value}</code>
                </td>
                <td>{s.says}</td>
              </tr>
            ))}
            {details.loads.map((l) => (
              <tr>
                <th scope="row">
                  <code>{l.register}</code>
                </th>
                <td>
                  one <code>{l.one}</code>, zero <code>{l.zero}</code>
                </td>
                <td>{l.says}</td>
              </tr>
            ))}
          </tbody>
        </table>
      </div>
      {details.header !== undefined && (
        <details>
          <summary>The C header</summary>
          <div class="acts">
            <button
              type="button"
              onClick={() =>
                navigator.clipboard.writeText(header).then(
                  () => setCopied('copied'),
                  () => setCopied('the browser did not allow copying; select the text'),
                )
              }
            >
              Copy the header
            </button>
            <span role="status">{copied}</span>
          </div>
          <pre class="code" tabIndex={0} role="region" aria-label="C header">
            {header}
          </pre>
        </details>
      )}
    </section>
  )
}
