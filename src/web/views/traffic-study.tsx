/** Policies side by side and the sweep over numbers of locomotives, when someone asks for them. */
import { Drawing } from '../parts/figure.js'
import { StudyRun } from '../parts/going.js'
import { List } from '../parts/list.js'
import { Tables } from '../parts/table.js'
import { askedStudy } from '../state/asked-study.js'
import { lastValid } from '../state/consequences.js'
import { study } from '../worker/callers.js'
import './traffic-study.css'

const policies = askedStudy((text, options) => study().call('traffic', { text }, options))

export function TrafficStudy() {
  if (!lastValid.value?.facts?.parts.includes('fleet')) return null
  const answer = policies.found.value?.answer
  const source = `calculated by Halfbit from ${lastValid.value.facts.name}`
  return (
    <section class="study" aria-labelledby="study">
      <h3 id="study">Policies and numbers of locomotives</h3>
      <p class="quiet">
        Every scheduling policy on clean and on dirty track, and how many locomotives each carries: many
        simulations, some of them long.
      </p>
      <StudyRun study={policies} ask="Compare policies" what="Simulating traffic">
        {answer && (
          <>
            <List title="What the policies do" sentences={[...answer.advice, ...answer.missing]} />
            <Tables tables={answer.tables} />
            <div class="drawings">
              {answer.figures.map((figure) => (
                <Drawing key={figure.name} figure={figure} source={source} />
              ))}
            </div>
          </>
        )}
      </StudyRun>
    </section>
  )
}
