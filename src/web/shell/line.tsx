/** The navigation is the signal's own way: the line with its stops, what flows above it, the proof at its end. */
import { Verdict } from '../parts/margin.js'
import { COMPARE, MAIN_LINE, PROOF, type Stage, UPPER_LINE } from '../stages.js'
import { lastValid, standings } from '../state/consequences.js'
import { route } from '../state/route.js'

export function Line() {
  return (
    <nav class="line" aria-label="Signal path">
      <ul class="above">
        {[...UPPER_LINE, COMPARE].map((stage) => (
          <StageLink stage={stage} />
        ))}
      </ul>
      <div class="rail" aria-hidden="true">
        <svg viewBox="0 0 1200 14" preserveAspectRatio="none">
          <path class="wave" d={wave()} />
        </svg>
      </div>
      <ol>
        {[...MAIN_LINE, PROOF].map((stage) => (
          <StageLink stage={stage} />
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

function StageLink({ stage }: { stage: Stage }) {
  const standing = standings.value[stage.id]
  const here = route.value === stage.id
  const worst = standing.worst
  const going = lastValid.value?.complete === false
  const nothing = standing.verdict === 'not shown'
  const late =
    going && (nothing || stage.id === 'trains') && (stage.clauses.length > 0 || stage.id === 'proof')
  return (
    <li>
      <a href={`#/${stage.id}`} class={`stop${here ? ' here' : ''}`} aria-current={here ? 'page' : undefined}>
        <span class="name">{stage.title}</span>
        {stage.clauses.length > 0 || stage.id === 'proof' ? (
          <Verdict verdict={standing.verdict} margin={standing.margin} />
        ) : (
          <span class="quiet">{stage.id === 'compare' ? 'A vs. B' : 'edge by edge'}</span>
        )}
        {late && (
          <span class="worst quiet">{nothing ? 'calculating …' : 'showing the previous figures …'}</span>
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
