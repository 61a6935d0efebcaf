// Builds the documentation as static pages: node scripts/docs/build.mjs FOLDER
import { cpSync, mkdirSync, rmSync, writeFileSync } from 'node:fs'
import { dirname, join } from 'node:path'
import { fileURLToPath } from 'node:url'
import { brokenLinks, escaped, pagesOf, pathOf, SECTIONS, upFrom } from './pages.mjs'

const here = dirname(fileURLToPath(import.meta.url))
const root = join(here, '../..')
const out = process.argv[2] ?? join(root, 'dist/web/docs')

/** Nothing from elsewhere, and nothing inside a page that a reader's browser would run. */
const POLICY =
  "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; base-uri 'none'; form-action 'none'"

/** Pages at the top of docs/ that no section names. */
function unnamed(pages) {
  const named = new Set(SECTIONS.flatMap(([, which]) => (typeof which === 'string' ? [] : which)))
  return pages.filter(({ name }) => !name.includes('/') && !named.has(name))
}

function navigation(pages, current) {
  const up = upFrom(current)
  const item = ({ name, title }) =>
    `<li><a href="${up}/${name}.html"${name === current ? ' aria-current="page"' : ''}>${escaped(title)}</a></li>`
  return SECTIONS.map(([title, which]) => {
    const own =
      typeof which === 'string'
        ? pages.filter(({ name }) => name.startsWith(which))
        : which.flatMap((name) => pages.filter((page) => page.name === name))
    if (title === 'Reference') own.push(...unnamed(pages))
    return `<h2>${title}</h2><ul>${own.map(item).join('')}</ul>`
  }).join('\n')
}

function page(pages, { name, title, html }) {
  const up = upFrom(name)
  return `<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="${POLICY}">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<title>${escaped(title)} - Halfbit</title>
<link rel="stylesheet" href="${up}/docs.css">
<script src="${up}/search.js" data-up="${up}" defer></script>
</head>
<body>
<a class="skip" href="#main">Skip to the text</a>
<header>
<a class="home" href="${up}/index.html">Halfbit documentation</a>
<div class="search" role="search"><label for="find">Search</label><input id="find" type="search" autocomplete="off"><ol id="found" aria-live="polite" hidden></ol></div>
</header>
<div class="sheet">
<details class="pages"><summary>Pages</summary><nav aria-label="Pages">${navigation(pages, name)}</nav></details>
<main id="main" tabindex="-1">
${html}
</main>
</div>
</body>
</html>
`
}

const words = (html) =>
  html
    .replace(/<[^>]*>/g, ' ')
    .replace(/&(amp|lt|gt|quot|#39);/g, ' ')
    .replace(/\s+/g, ' ')
    .trim()

const pages = await pagesOf(root)
const broken = brokenLinks(pages)
if (broken.length > 0) {
  console.error(`Links of the documentation that lead nowhere:\n${broken.join('\n')}`)
  process.exit(1)
}
rmSync(out, { recursive: true, force: true })
for (const each of pages) {
  const path = pathOf(out, each.name)
  mkdirSync(dirname(path), { recursive: true })
  writeFileSync(path, page(pages, each))
}
// A script and no JSON: pages that are opened from a disk may not fetch.
const index = pages.map(({ name, title, html }) => [name, title, words(html)])
writeFileSync(join(out, 'search-index.js'), `window.halfbitPages = ${JSON.stringify(index)}\n`)
for (const file of ['docs.css', 'search.js']) cpSync(join(here, file), join(out, file))
