/** An edge at a place of the track: its wave, what it is held against, and the same by SPICE. */
import { useEffect, useRef, useState } from 'preact/hooks'
import { download } from '../parts/download.js'
import { Drawing } from '../parts/figure.js'
import { news, text } from '../state/design.js'
import { endRing, ring } from '../worker/callers.js'
import type { RingAnswer } from '../worker/ring-calls.js'
import { type FormProps, PlaceFields, Refused } from './map-fields.js'

interface Way {
  search: boolean
  spice: boolean
}

export function RingingForm({ map, picked, pick, source }: FormProps & { source: string }) {
  const [answer, setAnswer] = useState<(RingAnswer & { of: string }) | undefined>(undefined)
  const [fault, setFault] = useState('')
  const [going, setGoing] = useState<{ share: number; says: string } | undefined>(undefined)
  const run = useRef(0)
  const stop = () => {
    run.current++
    endRing()
    setGoing(undefined)
  }
  useEffect(() => stop, [])
  const look = async (way: Way) => {
    if (going) stop()
    const mine = ++run.current
    const now = text.value
    setFault('')
    setGoing({ share: 0, says: 'building the line model' })
    try {
      const gives = await ring().call(
        'at',
        { text: now, section: picked.track, atMm: picked.atMm, ...way },
        { progress: (share, says) => mine === run.current && setGoing({ share, says }) },
      )
      if (mine !== run.current) return
      setAnswer({ ...gives, of: now })
      news.value = `An edge at ${gives.place}: peak ${gives.rows[1]![1]}.`
    } catch (error) {
      if (mine === run.current) setFault(error instanceof Error ? error.message : String(error))
    } finally {
      if (mine === run.current) {
        setGoing(undefined)
        if (way.spice) endRing()
      }
    }
  }
  return (
    <form
      onSubmit={(e) => {
        e.preventDefault()
        void look({ search: false, spice: false })
      }}
    >
      <h4>An edge at a place</h4>
      <p class="quiet">
        Choose a place on the map, or enter it here. No train is parked there, so nothing clamps the peak.
      </p>
      <div class="pairs">
        <PlaceFields map={map} picked={picked} pick={pick} />
      </div>
      <div class="switch">
        <button type="submit" class="main">
          Show the edge
        </button>
        <button type="button" onClick={() => void look({ search: true, spice: false })}>
          Find the best resistor and capacitor
        </button>
        <button type="button" onClick={() => void look({ search: false, spice: true })}>
          Check by SPICE
        </button>
      </div>
      {going && (
        <div class="going">
          <label>
            <span>An edge at {picked.track}</span>
            <progress max={1} {...(Number.isFinite(going.share) ? { value: going.share } : {})} />
          </label>
          <span class="mono">{going.says}</span>
          <button type="button" onClick={stop}>
            Stop
          </button>
        </div>
      )}
      <Refused why={fault} />
      {answer && (
        <section aria-label={`Edge at ${answer.place}`}>
          {answer.of !== text.value && <p class="notice">The design has changed since: calculate again.</p>}
          <Drawing figure={answer.figure} source={source} />
          <table>
            <caption>
              {answer.tooHigh ? '✗' : '✓'} Edge at {answer.place}
            </caption>
            <tbody>
              {answer.rows.map(([name, says]) => (
                <tr>
                  <th scope="row">{name}</th>
                  <td>{says}</td>
                </tr>
              ))}
            </tbody>
          </table>
          <button
            type="button"
            onClick={() => {
              // The first line of a netlist is its title.
              const note =
                answer.of === text.value ? '' : '* OUT OF DATE: the design has been changed since\n'
              const [title, ...rest] = answer.netlist.split('\n')
              download(`${answer.figure.name}.cir`, `${title}\n${note}${rest.join('\n')}`, 'text/plain')
            }}
          >
            Netlist (.cir)
          </button>
        </section>
      )}
    </form>
  )
}
