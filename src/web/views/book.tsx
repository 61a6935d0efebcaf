/** The build book on screen; readings are written in the form beside it and become measured evidence. */
import { download } from '../parts/download.js'
import { FigureDeck } from '../parts/figure-deck.js'
import { List } from '../parts/list.js'
import { usePrinted } from '../parts/printed.js'
import { StageBody } from '../parts/stage-body.js'
import { Tables } from '../parts/table.js'
import { stageBy } from '../stages.js'
import { lastValid } from '../state/consequences.js'
import { useDesk } from './ask.js'

export function BookView() {
  const proof = lastValid.value!.proof!
  const { answer, fault } = useDesk('book', (text) => ({ text, proof }), [proof], 200)
  const html = answer?.html
  const printBook = usePrinted(html === undefined ? undefined : async () => html, [html])
  const name = lastValid.value?.facts?.name ?? 'the design'
  return (
    <StageBody
      stage={stageBy('book')}
      top={answer && <FigureDeck figures={[answer.figure]} source={`made by Halfbit from ${name}`} />}
    >
      {fault && <p class="notice broken">{fault}</p>}
      {!answer && !fault && <p class="quiet">Writing the book …</p>}
      {answer && (
        <>
          <p class="tools">
            <button type="button" onClick={() => download('book.html', answer.html, 'text/html')}>
              Save as HTML
            </button>
            <button type="button" onClick={() => download('book.md', answer.markdown, 'text/markdown')}>
              Save as Markdown
            </button>
            <button type="button" onClick={() => void printBook()}>
              Print or PDF
            </button>
          </p>
          <p class="quiet">
            Write readings under “bench notes” in the form; they become measured evidence. This state of the
            design is <code>{answer.sum}</code>.
          </p>
          <List title="Care" sentences={answer.cautions} />
          <section>
            <h3>From first power to first train</h3>
            <ol>
              {answer.steps.map((step) => (
                <li>
                  <strong>{step.title}</strong>
                  <dl>
                    {step.facts.map(([term, words]) => (
                      <>
                        <dt>{term}</dt>
                        <dd>{words}</dd>
                      </>
                    ))}
                  </dl>
                </li>
              ))}
            </ol>
          </section>
          <Tables tables={answer.tables} />
        </>
      )}
    </StageBody>
  )
}
