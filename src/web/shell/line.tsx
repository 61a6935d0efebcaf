/** The navigation is the signal's own way: the line with its stops, what flows above it, the proof at its end. */
import { Verdict } from '../parts/margin.js'
import { sound, standings } from '../state/consequences.js'
import { route } from '../state/route.js'
import { ABOVE, COMPARE, LINE, PROOF, type Stop } from '../stops.js'

export function Line() {
  return (
    <nav class="line" aria-label="The way of the signal">
      <ul class="above">
        {[...ABOVE, COMPARE].map((stop) => (
          <StopLink stop={stop} />
        ))}
      </ul>
      <div class="rail" aria-hidden="true">
        <svg viewBox="0 0 1200 14" preserveAspectRatio="none">
          <path class="wave" d={wave()} />
        </svg>
      </div>
      <ol>
        {[...LINE, PROOF].map((stop) => (
          <StopLink stop={stop} />
        ))}
      </ol>
    </nav>
  )
}

/** Ones and zeros over the width: a packet on its way. */
function wave(): string {
  const bits = '11111111110001101110010111010001'
  const path = ['M0 11']
  for (let x = 0, i = 0; x < 1200; i++) {
    const half = bits[i % bits.length] === '1' ? 6 : 11
    path.push(`V3H${(x += half)}V11H${(x += half)}`)
  }
  return path.join('')
}

function StopLink({ stop }: { stop: Stop }) {
  const standing = standings.value[stop.id]
  const here = route.value === stop.id
  const worst = standing.worst
  const going = sound.value?.complete === false
  const nothing = standing.verdict === 'not shown'
  const late = going && (nothing || stop.id === 'trains') && (stop.clauses.length > 0 || stop.id === 'proof')
  return (
    <li>
      <a href={`#/${stop.id}`} class={`stop${here ? ' here' : ''}`} aria-current={here ? 'page' : undefined}>
        <span class="name">{stop.title}</span>
        {stop.clauses.length > 0 || stop.id === 'proof' ? (
          <Verdict verdict={standing.verdict} margin={standing.margin} />
        ) : (
          <span class="quiet">{stop.id === 'compare' ? 'A against B' : 'look at the edges'}</span>
        )}
        {late && (
          <span class="worst quiet">{nothing ? 'calculating …' : 'still the figures of before …'}</span>
        )}
        {worst && !late && (
          <span class="worst quiet">
            {worst.title}
            {worst.about === undefined ? '' : `, ${worst.about}`}
          </span>
        )}
      </a>
    </li>
  )
}
