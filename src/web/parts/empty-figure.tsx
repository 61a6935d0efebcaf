/** What is in the place of a figure that there is nothing for yet: what is missing, and how to get it. */
import type { ComponentChildren } from 'preact'

export function EmptyFigure({ title, children }: { title: string; children: ComponentChildren }) {
  return (
    <section class="empty-figure" aria-label={title}>
      <h3>
        <span aria-hidden="true">–</span> {title}
      </h3>
      <div>{children}</div>
    </section>
  )
}
