/** Captures and runs, edge by edge; a capture is dropped here and watched while it is read. */
import { useMemo, useState } from 'preact/hooks'
import { formatNumber, formatRange, formatTimeUs } from '../../units/index.js'
import { Drop } from '../parts/drop.js'
import { EmptyFigure } from '../parts/empty-figure.js'
import { GoingOn } from '../parts/going.js'
import { StageBody } from '../parts/stage-body.js'
import { stageBy } from '../stages.js'
import { lastValid } from '../state/consequences.js'
import {
  benchFault,
  chosenReading,
  isBusy,
  openCapture,
  readings,
  readStretch,
  takeCapture,
  takeListed,
} from '../state/runs.js'
import { chosenFinding } from '../state/selection.js'
import { CaptureForm } from '../wave/capture-form.js'
import { FindingList } from '../wave/findings.js'
import { Histogram } from '../wave/histogram.js'
import { Waveform } from '../wave/waveform.js'
import type { ReadSignal } from '../worker/calls.js'

export function WaveformView() {
  const facts = lastValid.value!.facts!
  const [output, setOutput] = useState<string | undefined>(undefined)
  const busy = isBusy.value
  const shown = readings.value.find((r) => r.key === chosenReading.value) ?? readings.value.at(-1)
  const source = shown?.read.source
  const nearer = useMemo(
    () => (source === undefined ? undefined : (from: number, to: number) => readStretch(source, from, to)),
    [source],
  )
  const sources = (
    <>
      <div class="run">
        <Drop
          label="Choose a capture"
          hint="VCD, CSV (levels or volts) or raw samples, plain or gzip, of any size; or drop it here"
          disabled={busy}
          onFile={(file) => void takeCapture(file, output)}
        />
        {facts.outputs.length > 1 && (
          <div class="field">
            <label for="capture-output">Output it shows</label>
            <select
              id="capture-output"
              value={output ?? facts.outputs[0]!.name}
              onChange={(event) => setOutput((event.currentTarget as HTMLSelectElement).value)}
            >
              {facts.outputs.map((o) => (
                <option value={o.name}>{o.name}</option>
              ))}
            </select>
          </div>
        )}
        {facts.captures.map((capture, listed) => (
          <button type="button" disabled={busy} onClick={() => void takeListed(listed)}>
            Read {capture.file}
          </button>
        ))}
      </div>
      {openCapture.value && <CaptureForm capture={openCapture.value} />}
    </>
  )
  return (
    <StageBody
      stage={stageBy('waveform')}
      beside={
        shown && (
          <FindingList
            findings={shown.read.record.findings}
            hasPackets={shown.read.record.packets > 0}
            more={Object.values(shown.read.reading.unlisted).reduce((a, b) => a + b, 0)}
            chosen={chosenFinding.value}
            choose={(finding) => (chosenFinding.value = finding)}
          />
        )
      }
    >
      <GoingOn />
      {benchFault.value?.of === 'capture' && <p class="notice broken">✗ {benchFault.value.says}</p>}
      {readings.value.length > 1 && (
        <div class="field">
          <label for="reading">Signal</label>
          <select
            id="reading"
            value={shown?.key}
            onChange={(event) => (chosenReading.value = (event.currentTarget as HTMLSelectElement).value)}
          >
            {readings.value.map((r) => (
              <option value={r.key}>{r.title}</option>
            ))}
          </select>
        </div>
      )}
      {shown ? (
        <>
          <Waveform
            record={shown.read.record}
            label={shown.title}
            isNamed={readings.value.length > 1}
            nearer={nearer}
          />
          {shown.read.record.lastUs && (
            <p class="quiet">
              {formatNumber(shown.read.record.edges, 9)} edges are more than are kept one by one:{' '}
              {nearer
                ? 'at a close zoom, the stretch in view is read from the file again.'
                : 'groups of edges are drawn as one, and a compressed or simulated signal cannot be read again in parts.'}
            </p>
          )}
          {shown.dialect && <p class="quiet">{shown.dialect}</p>}
          {shown.notes?.map((note) => (
            <p class="quiet">Note: {note}</p>
          ))}
          {sources}
          <Figures read={shown.read} />
          <Histogram reading={shown.read.reading} source={`${shown.origin}: ${shown.title}`} />
        </>
      ) : (
        <EmptyFigure title="Nothing has been recorded yet">
          <p>
            {facts.captures.length > 0 ? 'Read the design’s capture, drop one here,' : 'Drop a capture here,'}{' '}
            or
            {facts.firmware === undefined ? ' name firmware in the design and run it' : ' run the firmware'}{' '}
            in the stage <a href="#/controller">Controller</a>. A signal then appears edge by edge, with its
            packets and what is outside the limits.
          </p>
          {sources}
        </EmptyFigure>
      )}
    </StageBody>
  )
}

function Figures({ read }: { read: ReadSignal }) {
  const r = read.reading
  const half = (s: typeof r.one) =>
    s.count === 0 ? 'none' : `${formatRange(s.minUs, s.maxUs, 'us')}, mean ${formatNumber(s.meanUs, 5)} us`
  const facts: [string, string][] = [
    ['Time', formatRange(r.startUs, r.endUs, 'us')],
    ['Edges', `${r.edges}, each known to ${formatTimeUs(r.resolutionUs, 3)}`],
    ['Halves of ones', half(r.one)],
    ['Halves of zeros', half(r.zero)],
    ['Packets', `${r.packets.total}, ${r.packets.valid} valid, ${r.packets.spoiled} spoiled`],
    ...(read.analog
      ? ([
          [
            'Voltage',
            `${formatNumber(read.analog.lowVolt, 4)} and ${formatNumber(read.analog.highVolt, 4)} V on average, ${formatRange(read.analog.minVolt, read.analog.maxVolt, 'V', 4)} at the extremes, RMS ${formatNumber(read.analog.rmsVolt, 4)} V`,
          ],
          [
            'Threshold',
            `edges at ${formatNumber(read.analog.middleVolt, 4)} V, high beyond ${formatNumber(read.analog.upVolt, 4)} V, low beyond ${formatNumber(read.analog.downVolt, 4)} V`,
          ],
        ] as [string, string][])
      : []),
    ['Glitches, gaps', `${r.glitches.count}, ${r.gaps.count}`],
  ]
  return (
    <dl class="facts">
      {facts.map(([term, fact]) => (
        <>
          <dt>{term}</dt>
          <dd>{fact}</dd>
        </>
      ))}
    </dl>
  )
}
