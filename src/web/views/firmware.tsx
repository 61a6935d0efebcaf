/** The firmware on the simulated controller: choose, run, watch, read what it showed. */
import { useState } from 'preact/hooks'
import { runNotes } from '../../controller/index.js'
import { isShown } from '../../standard/index.js'
import { formatRange, formatShare, formatTimeUs, parseQuantity } from '../../units/index.js'
import { Drop } from '../parts/drop.js'
import { GoingOn } from '../parts/going.js'
import { Jitter } from '../parts/jitter.js'
import { Table } from '../parts/table.js'
import { lastValid, runEvidence } from '../state/consequences.js'
import { benchFault, going, isBusy, lastRun, runFirmware } from '../state/runs.js'
import type { Live } from '../worker/calls.js'

export function FirmwareRun() {
  const facts = lastValid.value!.facts!
  const [file, setFile] = useState<File | undefined>(undefined)
  const [script, setScript] = useState<File | undefined>(undefined)
  const planned = facts.firmware?.runForUs === undefined ? '5 s' : formatTimeUs(facts.firmware.runForUs)
  const [forText, setForText] = useState<string | undefined>(undefined)
  const wanted = parseQuantity(forText ?? planned, 'time')
  const forFault = !wanted.ok
    ? `expected ${wanted.expected}`
    : wanted.value < 1000 || wanted.value > 3600e6
      ? 'expected 1 ms to 1 h'
      : undefined
  const name = file?.name ?? facts.firmware?.file
  const stimulus = script?.name ?? facts.firmware?.stimulus
  if (!facts.simulated) {
    return (
      <section aria-labelledby="firmware">
        <h3 id="firmware">Firmware</h3>
        <p class="quiet">
          {facts.chipName} cannot be simulated yet; the proof shows what the design and captures say of it.
        </p>
      </section>
    )
  }
  return (
    <section aria-labelledby="firmware">
      <h3 id="firmware">Firmware on the simulated {facts.chipName}</h3>
      <div class="run">
        <Drop label="Choose HEX or ELF" hint="or drop it here" disabled={isBusy.value} onFile={setFile} />
        <Drop
          label="Choose a stimulus"
          hint="commands, pins and voltages over time"
          disabled={isBusy.value}
          onFile={setScript}
        />
        <div class="field">
          <label for="run-for">Simulated time</label>
          <input
            id="run-for"
            value={forText ?? planned}
            aria-invalid={forFault !== undefined}
            aria-describedby={forFault ? 'run-for-fault' : undefined}
            onInput={(event) => setForText((event.currentTarget as HTMLInputElement).value)}
          />
          {forFault && (
            <p class="broken" id="run-for-fault">
              ✗ {forFault}
            </p>
          )}
        </div>
        <button
          type="button"
          class="main"
          disabled={name === undefined || forFault !== undefined || isBusy.value}
          onClick={() => wanted.ok && void runFirmware(file, script, wanted.value)}
        >
          Run {name ?? 'firmware'}
        </button>
      </div>
      <p class="quiet">
        {name === undefined
          ? 'The design names no firmware: drop a HEX or ELF file, or name one in the form.'
          : `${name}${stimulus ? `, with ${stimulus}` : ', without stimulus'}.`}
      </p>
      <GoingOn />
      {going.value?.live && <LiveFigures live={going.value.live} />}
      {going.value?.lives &&
        facts.outputs.map((o) => <Jitter key={o.name} lives={going.value!.lives!} output={o.name} />)}
      {benchFault.value?.of === 'firmware' && <p class="notice broken">✗ {benchFault.value.says}</p>}
      <LastRun />
    </section>
  )
}

function LiveFigures({ live }: { live: Live }) {
  const range = (low: number, high: number) => (Number.isFinite(low) ? formatRange(low, high, 'us') : '–')
  return (
    <Table
      table={{
        title: 'While it runs: half-bits since the last look',
        head: ['output', 'packets', 'halves of ones', 'halves of zeros'],
        right: [1, 2, 3],
        rows: live.outputs.map((o) => [
          o.name,
          String(o.packets),
          range(o.oneLowUs, o.oneHighUs),
          range(o.zeroLowUs, o.zeroHighUs),
        ]),
      }}
    />
  )
}

function LastRun() {
  const run = lastRun.value
  if (!run) return null
  const { report } = run
  // What its evidence says is broken, whatever clause that is about.
  const shown = runEvidence.value.get('firmware')?.statements.filter(isShown) ?? []
  const faults = new Set(shown.filter((e) => e.verdict === 'broken').map((e) => e.because))
  const lines = [
    `${formatTimeUs(report.simulatedUs)} of ${run.name} simulated${run.interrupted ? ' (stopped early)' : ''}; the controller worked ${formatShare(report.load)} of the time, ${formatShare(report.interruptShare)} in interrupts.`,
    ...report.outputs
      .filter((o) => o.madeBy !== 'none')
      .map(
        (o) =>
          `${o.name}: ${o.edges} edges by ${o.madeBy === 'hardware' ? o.peripheral : 'instructions, so every delay moves an edge'}${o.leastSlackUs === undefined ? '' : `; the next half-bit was loaded ${o.leastSlackUs < 0 ? `up to ${formatTimeUs(-o.leastSlackUs)} too late` : `at least ${formatTimeUs(o.leastSlackUs)} before it would have been too late`}`}${o.missedCompares > 0 ? `; ${o.missedCompares} compare values came too late` : ''}.`,
      ),
    `Stack: ${report.stack.deepestBytes} of ${report.stack.ramBytes} bytes at its deepest${report.stack.overflowed ? '; it ran into the program’s data' : ''}.`,
    ...runNotes(report).map((f) => f.sentence),
  ]
  return (
    <div class="card" role="status">
      <h4>What the run showed</h4>
      {faults.size > 0 && (
        <ul class="sentences broken">
          {[...faults].map((says) => (
            <li>✗ {says}</li>
          ))}
        </ul>
      )}
      <ul class="sentences">
        {lines.map((l) => (
          <li>{l}</li>
        ))}
      </ul>
      {run.lives.at(-1)?.outputs.map((o) => (
        <Jitter key={o.name} lives={run.lives} output={o.name} />
      ))}
      <Table
        table={{
          title: 'Interrupts',
          head: ['interrupt', 'count', 'share', 'longest run', 'latest start', 'lost'],
          right: [1, 2, 3, 4, 5],
          rows: report.interrupts.map((i) => [
            i.name,
            String(i.count),
            formatShare(i.share),
            formatTimeUs(i.longestRunUs),
            formatTimeUs(i.worstLatencyUs),
            String(i.lost),
          ]),
        }}
      />
      <p>
        <a href="#/waveform">Show its edges in the waveform</a>
      </p>
    </div>
  )
}
