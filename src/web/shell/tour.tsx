/** Three steps for a first visit; shown once, skipped with one key. */
import { signal } from '@preact/signals'
import type { StageId } from '../stages.js'
import { go } from '../state/route.js'

const KEPT = 'halfbit-tour-seen'
const step = signal(localStorage.getItem(KEPT) ? -1 : 0)

const STEPS: { stage: StageId; says: string }[] = [
  {
    stage: 'proof',
    says: 'This is a whole station, calculated. The table says for each demand of the published standards whether it is met, and by what margin. A clause without evidence never counts as met.',
  },
  {
    stage: 'controller',
    says: 'The line above follows the signal’s path. Each stage shows its smallest margin. Change a number in the design, such as the half of a one bit, and everything is recalculated.',
  },
  {
    stage: 'waveform',
    says: 'The firmware and captures that the design names are run and read for you; drop others here or in the stage Controller. Ctrl+Z undoes any change.',
  },
]

export function Tour() {
  const now = STEPS[step.value]
  if (!now) return null
  const leave = () => {
    localStorage.setItem(KEPT, '1')
    step.value = -1
  }
  const last = step.value === STEPS.length - 1
  return (
    <section
      class="tour"
      aria-label="A short tour"
      onKeyDown={(event) => {
        if (event.key === 'Escape') leave()
      }}
    >
      <p role="status">
        <strong>
          {step.value + 1} of {STEPS.length}.
        </strong>{' '}
        {now.says}
      </p>
      <div class="acts">
        <button
          type="button"
          class="main"
          onClick={() => {
            if (last) return leave()
            step.value++
            go(STEPS[step.value]!.stage)
          }}
        >
          {last ? 'Done' : 'Next'}
        </button>
        {!last && (
          <button type="button" onClick={leave}>
            Skip the tour
          </button>
        )}
      </div>
    </section>
  )
}
