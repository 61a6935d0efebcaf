/** Every text on screen with the signs of its units, whichever room wrote it. What is typed or copied stays as it is. */
import { Fragment, options, type VNode } from 'preact'
import { typeset } from '../../units/index.js'

/** These show the design's own text, or hold what someone types. */
const VERBATIM = new Set(['code', 'pre', 'textarea', 'input', 'kbd'])
const SPOKEN = ['aria-label', 'title', 'label'] as const

function said(children: unknown): unknown {
  if (typeof children === 'string') return typeset(children)
  if (!Array.isArray(children)) return children
  return children.map((child, i) => {
    if (typeof child !== 'string') return said(child)
    // `{number} us` comes in two pieces.
    const before = children[i - 1]
    const follows = typeof before === 'number' || (typeof before === 'string' && /[\d∞)]$/u.test(before))
    return follows ? typeset(`0${child}`).slice(1) : typeset(child)
  })
}

/** Call it once, before anything is drawn. */
export function typesetScreen(): void {
  const before = options.vnode
  options.vnode = (vnode: VNode) => {
    const { type } = vnode
    if ((typeof type === 'string' && !VERBATIM.has(type)) || type === Fragment) {
      const props = vnode.props as Record<string, unknown>
      if (props.children !== undefined) props.children = said(props.children)
      for (const name of SPOKEN) if (typeof props[name] === 'string') props[name] = typeset(props[name])
    }
    before?.(vnode)
  }
}
