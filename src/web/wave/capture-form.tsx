/** How a capture is read: what was found, and what can be said otherwise. Judged again without another drop. */
import type { ComponentChildren } from 'preact'
import { useEffect, useState } from 'preact/hooks'
import { CAPTURE_FORMAT_IDS, CAPTURE_FORMATS } from '../../capture/index.js'
import { type Dimension, formatNumber, formatSi, formatTimeUs, parseQuantity } from '../../units/index.js'
import { isBusy, type OpenCapture, readCapture } from '../state/runs.js'
import type { CaptureSettings } from '../worker/calls.js'

type Key = keyof CaptureSettings

const UNITS: [string, number][] = [
  ['s', 1e6],
  ['ms', 1e3],
  ['us', 1],
  ['ns', 1e-3],
]

export function CaptureForm({ capture }: { capture: OpenCapture }) {
  const { look } = capture
  const [settings, setSettings] = useState<CaptureSettings>(capture.settings)
  const [wrong, setWrong] = useState<readonly string[]>([])
  useEffect(() => {
    setSettings(capture.settings)
    setWrong([])
  }, [capture.name, capture.settings])
  const asks = look.format === undefined || look.says !== undefined
  const format = settings.format ?? look.format
  // Nothing is known of a file that is neither VCD nor text: samples are all it can be.
  const isRaw = format === 'raw' || format === undefined
  const set = (key: Key, value: unknown) => setSettings((s) => ({ ...s, [key]: value }))
  const missing = isRaw && settings.rateHz === undefined ? 'the sampling rate' : undefined
  const busy = isBusy.value
  const judge = () => {
    const said = isRaw ? { bits: 1, ...settings, format: 'raw' as const } : settings
    void readCapture({ ...capture, settings: said })
  }
  const number = (
    key: Key,
    label: string,
    dimension: Dimension,
    hint: string,
    show: (v: number) => string,
  ) => (
    <Quantity
      key={`${capture.name} ${key}`}
      label={label}
      dimension={dimension}
      hint={hint}
      value={settings[key] as number | undefined}
      show={show}
      onValue={(value) => set(key, value)}
      onWrong={(is) => setWrong((w) => [...w.filter((k) => k !== key), ...(is ? [key] : [])])}
    />
  )
  const choice = (key: Key, label: string, choices: [string, unknown][]) => (
    <Field label={label} id={`capture-${key}`}>
      <select
        id={`capture-${key}`}
        value={String(choices.findIndex(([, v]) => v === settings[key]))}
        onChange={(event) => set(key, choices[Number(event.currentTarget.value)]![1])}
      >
        {choices.map(([name], i) => (
          <option value={String(i)}>{name}</option>
        ))}
      </select>
    </Field>
  )
  const [first, second] = settings.channel ?? []
  const channels = (a: string | undefined, b: string | undefined) =>
    set('channel', a === undefined ? undefined : b === undefined ? [a] : [a, b])
  const size = (v: number) => `${formatNumber(v, 9)} V`
  return (
    <details class="capture-form" open={asks || undefined}>
      <summary>How {capture.name} is read</summary>
      {look.says && <p class="notice">{look.says}</p>}
      {look.format === undefined && !look.says && (
        <p class="quiet">What is not set here is detected from the file.</p>
      )}
      <form
        onSubmit={(event) => {
          event.preventDefault()
          judge()
        }}
      >
        <div class="fields">
          {choice('format', 'Format', [
            [
              look.format && !settings.format
                ? `detected: ${CAPTURE_FORMATS[look.format].title}`
                : 'detected',
              undefined,
            ],
            ...CAPTURE_FORMAT_IDS.map((id): [string, string] => [CAPTURE_FORMATS[id].title, id]),
          ])}
          {!isRaw && look.channels.length > 0 && (
            <>
              <Field label="Channel" id="capture-channel">
                <Channels
                  id="capture-channel"
                  names={look.channels}
                  none="the first"
                  value={first}
                  onValue={(name) => channels(name, second === name ? undefined : second)}
                />
              </Field>
              <Field label="minus channel" id="capture-less">
                <Channels
                  id="capture-less"
                  names={look.channels.filter((c) => c !== first)}
                  none="none"
                  value={second}
                  disabled={first === undefined}
                  onValue={(name) => channels(first, name)}
                />
              </Field>
            </>
          )}
          {format === 'csv' &&
            choice('as', 'Values', [
              [settings.as ? 'detected' : `detected: ${look.isAnalog ? 'analog' : 'digital'}`, undefined],
              ['digital', 'digital'],
              ['analog, volts', 'analog'],
            ])}
          {!isRaw && format === 'csv' && look.channels.length > 1 && (
            <Field label="Current on a service track" id="capture-current">
              <Channels
                id="capture-current"
                names={look.channels.filter((c) => c !== first && c !== second)}
                none="not recorded"
                value={settings.current?.channel}
                onValue={(name) =>
                  set('current', name === undefined ? undefined : { ...settings.current, channel: name })
                }
              />
            </Field>
          )}
          {settings.current && (
            <Field label="Amperes per volt of it" id="capture-amp-per-volt">
              <select
                id="capture-amp-per-volt"
                value={String(settings.current.ampPerVolt ?? '')}
                onChange={(event) =>
                  set('current', {
                    ...settings.current,
                    ampPerVolt: Number(event.currentTarget.value) || undefined,
                  })
                }
              >
                <option value="">it holds amperes</option>
                {[0.01, 0.1, 1, 2, 5, 10, 100].map((n) => (
                  <option value={String(n)}>{n}</option>
                ))}
              </select>
            </Field>
          )}
          {isRaw && (
            <>
              {choice('bits', 'Bits per sample', [
                ['1', undefined],
                ...[2, 4, 8, 16].map((n): [string, number] => [String(n), n]),
              ])}
              {(settings.bits ?? 1) > 1 && (
                <Field label="Bit that carries the signal" id="capture-bit">
                  <Channels
                    id="capture-bit"
                    names={Array.from({ length: settings.bits! }, (_, i) => String(i))}
                    none={settings.bits! >= 8 ? 'none: the samples are analog' : '0'}
                    value={first}
                    onValue={(name) => channels(name, undefined)}
                  />
                </Field>
              )}
              {choice('signed', 'Numbers', [
                ['unsigned', undefined],
                ['signed', true],
              ])}
              {choice('bigEndian', 'Order', [
                ['least significant first', undefined],
                ['most significant first', true],
              ])}
              {number('stepVolt', 'Volts per count', 'voltage', 'not known', size)}
              {choice('zeroCount', 'Count at 0 V', [
                ['0', undefined],
                ['128', 128],
                ['512', 512],
                ['2048', 2048],
                ['32768', 32768],
              ])}
            </>
          )}
          {number('rateHz', 'Sampling rate', 'frequency', isRaw ? 'such as 4 MHz' : 'detected', (v) =>
            formatSi(v, 'Hz', 9),
          )}
          {format === 'csv' && choice('unitUs', 'Unit of time', [['detected', undefined], ...UNITS])}
          {(look.isAnalog || settings.as === 'analog' || isRaw) && (
            <>
              {choice('probeFactor', 'Probe attenuation', [
                ['1', undefined],
                ['10', 10],
                ['20', 20],
                ['50', 50],
                ['100', 100],
              ])}
              {choice('reference', 'Zero', [
                ['detected', undefined],
                ['0 V of the record', 'zero'],
                ['the middle of the plateaus', 'middle'],
              ])}
              {number('thresholdVolt', 'Threshold', 'voltage', 'zero', size)}
              {number('hysteresisVolt', 'Hysteresis', 'voltage', 'two fifths of a plateau', size)}
            </>
          )}
          {choice('invert', 'Levels', [
            ['as they are', undefined],
            ['inverted', true],
          ])}
          {choice('cutout', 'Cut-outs', [
            ['as the design says', undefined],
            ['the station sends them', true],
            ['none', false],
          ])}
          {choice('mode', 'Packets', [
            ['as the design says', undefined],
            ['operations', 'operations'],
            ['service mode', 'service'],
          ])}
          {choice('probe', 'Probe', [
            [capture.listed === undefined ? 'at the rails' : 'as the design says', undefined],
            ['at the rails', 'rails'],
            ['on a logic pin', 'logic'],
          ])}
          {number('skipUs', 'Skip at the start', 'time', 'nothing', (v) => formatTimeUs(v, 9))}
          {number('fromUs', 'From', 'time', 'the start', (v) => formatTimeUs(v, 9))}
          {number('toUs', 'To', 'time', 'the end', (v) => formatTimeUs(v, 9))}
        </div>
        <div class="buttons">
          <button type="submit" class="main" disabled={busy || missing !== undefined || wrong.length > 0}>
            {asks ? 'Evaluate' : 'Evaluate again'}
          </button>
          <button type="button" disabled={busy} onClick={() => setSettings({})}>
            Reset to detected
          </button>
          {missing && <span class="quiet">State {missing} first: the file does not tell it.</span>}
        </div>
      </form>
    </details>
  )
}

function Field({ label, id, children }: { label: string; id: string; children: ComponentChildren }) {
  return (
    <div class="field">
      <label for={id}>{label}</label>
      {children}
    </div>
  )
}

interface ChannelsProps {
  id: string
  names: readonly string[]
  none: string
  value: string | undefined
  disabled?: boolean
  onValue(name: string | undefined): void
}

function Channels({ id, names, none, value, disabled, onValue }: ChannelsProps) {
  return (
    <select
      id={id}
      disabled={disabled}
      value={String(value === undefined ? -1 : names.indexOf(value))}
      onChange={(event) => onValue(names[Number(event.currentTarget.value)])}
    >
      <option value="-1">{none}</option>
      {names.map((name, i) => (
        <option value={String(i)}>{name}</option>
      ))}
    </select>
  )
}

interface QuantityProps {
  label: string
  dimension: Dimension
  hint: string
  value: number | undefined
  show(value: number): string
  onValue(value: number | undefined): void
  onWrong(is: boolean): void
}

/** A number with its unit, as people write it; empty means: as found. */
function Quantity({ label, dimension, hint, value, show, onValue, onWrong }: QuantityProps) {
  const [text, setText] = useState(value === undefined ? '' : show(value))
  const parsed = text.trim() === '' ? undefined : parseQuantity(text, dimension)
  // Set from outside: taken back, or another file.
  useEffect(() => {
    if (value === undefined && parsed?.ok) setText('')
    if (value !== undefined && !(parsed?.ok && parsed.value === value)) setText(show(value))
  }, [value])
  const id = `capture-${label.replaceAll(' ', '-').toLowerCase()}`
  const fault = parsed && !parsed.ok ? `expected ${parsed.expected}` : undefined
  return (
    <div class={`field${fault ? ' wrong' : ''}`}>
      <label for={id}>{label}</label>
      <input
        id={id}
        value={text}
        placeholder={hint}
        aria-invalid={fault !== undefined}
        aria-describedby={fault ? `${id}-fault` : undefined}
        onInput={(event) => {
          const next = (event.currentTarget as HTMLInputElement).value
          setText(next)
          const read = next.trim() === '' ? undefined : parseQuantity(next, dimension)
          onWrong(read !== undefined && !read.ok)
          if (read === undefined || read.ok) onValue(read?.ok ? read.value : undefined)
        }}
      />
      {fault && (
        <p class="broken" id={`${id}-fault`}>
          ✗ {fault}
        </p>
      )}
    </div>
  )
}
