/** The way from a clause on screen to its page of the documentation. */
export function AboutClause({ clause }: { clause: string }) {
  return (
    <p>
      <a href={`./docs/clauses/${clause}.html`} target="_blank" rel="noreferrer">
        What {clause} means, why it matters, what helps
      </a>
    </p>
  )
}
