/** Sentences under a title; nothing where there are none. */
export function List({ title, sentences }: { title: string; sentences: readonly string[] }) {
  if (sentences.length === 0) return null
  return (
    <section>
      <h3>{title}</h3>
      <ul class="sentences">
        {sentences.map((s) => (
          <li>{s}</li>
        ))}
      </ul>
    </section>
  )
}
