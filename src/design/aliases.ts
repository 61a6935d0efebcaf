/** Aliases of a YAML file. */
import { type Alias, type Document, type Node, visit } from 'yaml'

export type Aliases = ReadonlyMap<Alias, Node>

export const NO_ALIASES: Aliases = new Map()

/** What each alias stands for: the last node before it with that anchor. One walk, however many there are. */
export function aliasesOf(document: Document): Aliases {
  const anchors = new Map<string, Node>()
  const aliases = new Map<Alias, Node>()
  visit(document, {
    Alias(_, alias) {
      const target = anchors.get(alias.source)
      if (target) aliases.set(alias, target)
    },
    Value(_, node) {
      if (node.anchor !== undefined) anchors.set(node.anchor, node)
    },
  })
  return aliases
}
