// The pages of the documentation: those written in docs/, and one for every clause, finding and command, made from the
// same data as the program's own answers.
import { readdirSync, readFileSync } from 'node:fs'
import { dirname, join, posix, relative, sep } from 'node:path'
import { Marked } from 'marked'
import { COMMANDS } from '../../dist/cli/commands.js'
import { optionCall, optionsOf } from '../../dist/cli/help/text.js'
import { explain, knownFindings } from '../../dist/proof/index.js'
import { CLAUSE_IDS } from '../../dist/standard/index.js'

/** Sections of the navigation, in order, with the pages that are named there. */
export const SECTIONS = [
  ['Begin', ['index', 'tutorial', 'glossary']],
  ['How to', 'how-to/'],
  ['Reference', ['commands/index', 'clauses/index', 'findings', 'design-file']],
  ['How it is computed', 'method/'],
  ['Decisions', 'adr/'],
]

export function escaped(text) {
  return String(text).replace(
    /[&<>"]/g,
    (c) => ({ '&': '&amp;', '<': '&lt;', '>': '&gt;', '"': '&quot;' })[c],
  )
}

const capital = (text) => text[0].toUpperCase() + text.slice(1)

const slug = (text) =>
  text
    .toLowerCase()
    .replace(/<[^>]*>|&[a-z]+;/g, '')
    .replace(/[^\p{L}\p{N}]+/gu, '-')
    .replace(/^-|-$/g, '')

/** A clause or a finding named in code becomes a link to its page. */
function linked(code, from) {
  const target = CLAUSE_IDS.includes(code)
    ? `clauses/${code}`
    : knownFindings().has(code)
      ? `findings/${code}`
      : undefined
  const html = `<code>${escaped(code)}</code>`
  if (target === undefined || target === from) return html
  return `<a href="${posix.relative(posix.dirname(from), target)}.html">${html}</a>`
}

/** Markdown as HTML. @param name path of the page below docs/, without its ending. */
function rendered(markdown, name) {
  const marked = new Marked({ gfm: true })
  marked.use({
    renderer: {
      heading({ tokens, depth }) {
        const html = this.parser.parseInline(tokens)
        return `<h${depth} id="${slug(html)}">${html}</h${depth}>\n`
      },
      codespan: ({ text }) => linked(text, name),
      code: ({ text }) => `<pre tabindex="0"><code>${escaped(text)}</code></pre>\n`,
      link({ href, tokens }) {
        const inside = this.parser.parseInline(tokens)
        return `<a href="${escaped(href.replace(/\.md(#|$)/, '.html$1'))}">${inside}</a>`
      },
      table(token) {
        const cell = ({ tokens, align }, tag) =>
          `<${tag}${align ? ` class="${align}"` : ''}>${this.parser.parseInline(tokens)}</${tag}>`
        const head = `<tr>${token.header.map((c) => cell(c, 'th')).join('')}</tr>`
        const body = token.rows.map((row) => `<tr>${row.map((c) => cell(c, 'td')).join('')}</tr>`).join('\n')
        return `<div class="wide" tabindex="0"><table><thead>${head}</thead><tbody>${body}</tbody></table></div>\n`
      },
    },
  })
  return marked.parse(markdown)
}

function written(root) {
  const docs = join(root, 'docs')
  return readdirSync(docs, { recursive: true })
    .filter((file) => file.endsWith('.md'))
    .map((file) => {
      const name = file.split(sep).join('/').replace(/\.md$/, '')
      const markdown = readFileSync(join(docs, file), 'utf8')
      const title = /^# (.+)$/m.exec(markdown)?.[1] ?? name
      return { name, title: title.replaceAll('`', ''), html: rendered(markdown, name) }
    })
}

function explained(name) {
  const e = explain(name)
  const page = e.kind === 'clause' ? `clauses/${name}` : `findings/${name}`
  const link = (other) => linked(other, page)
  const demands = e.demands.map(
    ({ editions, demand, source }) =>
      `<tr><td>${escaped(demand)}</td><td>${escaped(source)}</td><td>${escaped(editions.join('; '))}</td></tr>`,
  )
  return {
    name: page,
    title: e.kind === 'clause' ? `${name}: ${e.title}` : name,
    kind: e.kind,
    html: `<h1>${escaped(e.kind === 'clause' ? capital(e.title) : name)}</h1>
<p class="quiet">${e.kind === 'clause' ? `The clause <code>${name}</code>` : `The finding <code>${name}</code>`}</p>
<h2 id="means">What it means</h2><p>${escaped(e.means)}</p>
<h2 id="why">Why it matters</h2><p>${escaped(e.why)}</p>
<h2 id="usually">What people usually do about it</h2><p>${escaped(e.usually ?? 'Nothing needs doing.')}</p>
<p class="quiet">Common practice, no source.</p>
${
  demands.length > 0
    ? `<h2 id="source">Source</h2><div class="wide" tabindex="0"><table><thead><tr><th>demand (H0 scale)</th><th>from</th><th>in</th></tr></thead><tbody>${demands.join('\n')}</tbody></table></div>
<p class="quiet">Confirmed: seen in the named document. From memory: compare it with the current edition before you rely on it.</p>`
    : '<h2 id="source">Source</h2><p>It is a statement about this design, run or record, and no demand of a standard. How it is found is in the pages on how each figure is computed.</p>'
}
${e.shownBy.length > 0 ? `<p>Evidence that can show it: ${escaped(e.shownBy.join(', '))}.</p>` : ''}
${e.related.length > 0 ? `<h2 id="related">${e.kind === 'clause' ? 'Findings about it' : 'Clauses'}</h2><ul>${e.related.map((r) => `<li>${link(r)}</li>`).join('')}</ul>` : ''}`,
  }
}

function clauseList() {
  const rows = CLAUSE_IDS.map((id) => {
    const { title, means } = explain(id)
    return `<tr><td><a href="${id}.html"><code>${id}</code></a></td><td>${escaped(title)}</td><td>${escaped(means)}</td></tr>`
  })
  return {
    name: 'clauses/index',
    title: 'Clauses',
    html: `<h1>Clauses</h1><p>A clause is one testable demand of a published standard, or one rule of sound practice. A proof has a row for each.</p><div class="wide" tabindex="0"><table><thead><tr><th>clause</th><th>in short</th><th>what it means</th></tr></thead><tbody>${rows.join('\n')}</tbody></table></div>`,
  }
}

async function commandPages() {
  const pages = []
  for (const [name, { summary, load }] of Object.entries(COMMANDS)) {
    const { command } = await load()
    const options = optionsOf(command).map(
      ([key, info]) =>
        `<tr><td><code>${escaped(optionCall(key, info))}</code></td><td>${escaped(info.help)}</td></tr>`,
    )
    const list = (lines) => `<pre tabindex="0"><code>${escaped(lines.join('\n'))}</code></pre>`
    pages.push({
      name: `commands/${name}`,
      title: `halfbit ${name}`,
      summary,
      html: `<h1>halfbit ${name}</h1>${list(command.usage.map((u) => `halfbit ${u}`))}
${command.about
  .split(/\n(?=\s{2}\S)/)
  .map((part, i) => (i === 0 ? `<p>${escaped(part)}</p>` : list([part])))
  .join('')}
<h2 id="options">Options</h2><div class="wide" tabindex="0"><table><tbody>${options.join('\n')}</tbody></table></div>
${command.examples?.length ? `<h2 id="examples">Examples</h2>${list(command.examples)}` : ''}`,
    })
  }
  const rows = pages.map(
    ({ name, title, summary }) =>
      `<tr><td><a href="${name.slice(9)}.html"><code>${title}</code></a></td><td>${escaped(summary)}</td></tr>`,
  )
  const index = {
    name: 'commands/index',
    title: 'Commands',
    html: `<h1>Commands</h1><div class="wide" tabindex="0"><table><tbody>${rows.join('\n')}</tbody></table></div>`,
  }
  return [index, ...pages]
}

/** All pages: `{ name, title, html }`, the name being the path below docs/ without its ending. */
export async function pagesOf(root) {
  return [
    ...written(root),
    clauseList(),
    ...[...CLAUSE_IDS, ...knownFindings().keys()].map(explained),
    ...(await commandPages()),
  ]
}

/** Links and files of a page that lead nowhere. */
export function brokenLinks(pages) {
  const names = new Set(pages.map(({ name }) => `${name}.html`))
  return pages.flatMap(({ name, html }) =>
    [...html.matchAll(/href="([^"#]+)(?:#[^"]*)?"/g)]
      .map(([, href]) => href)
      .filter((href) => !/^https?:/.test(href))
      .map((href) => posix.normalize(posix.join(posix.dirname(name), href)))
      .filter((target) => !names.has(target))
      .map((target) => `${name}: ${target}`),
  )
}

export const pathOf = (out, name) => join(out, `${name}.html`)
export const upFrom = (name) => relative(dirname(name), '.').split(sep).join('/') || '.'
