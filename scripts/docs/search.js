// Search in the documentation. The index is loaded when the field is first used.
const up = document.currentScript.dataset.up

addEventListener('DOMContentLoaded', () => {
  const wide = matchMedia('(min-width: 60rem)')
  const pages = document.querySelector('details.pages')
  const unfold = () => {
    pages.open = wide.matches
  }
  unfold()
  wide.addEventListener('change', unfold)
  const field = document.getElementById('find')
  const list = document.getElementById('found')
  field.addEventListener('focus', loadIndex, { once: true })
  field.addEventListener('input', () => show(field.value, list))
  addEventListener('keydown', (event) => {
    if (event.key !== 'Escape' || list.hidden) return
    list.hidden = true
    field.focus()
  })
})

function loadIndex() {
  const script = document.createElement('script')
  script.src = `${up}/search-index.js`
  script.addEventListener('load', () => document.getElementById('find').dispatchEvent(new Event('input')))
  document.head.append(script)
}

function show(text, list) {
  const wanted = text.toLowerCase().split(/\s+/).filter(Boolean)
  const all = window.halfbitPages
  list.hidden = wanted.length === 0 || all === undefined
  if (list.hidden) return
  const hits = all
    .map(([name, title, body]) => ({ name, title, body, score: score(wanted, title, body) }))
    .filter((hit) => hit.score > 0)
    .sort((a, b) => b.score - a.score)
    .slice(0, 12)
  list.replaceChildren(...(hits.length > 0 ? hits.map((hit) => item(hit, wanted[0])) : [nothing(text)]))
}

/** All words must be there; those in the title count most. */
function score(wanted, title, body) {
  const [inTitle, inBody] = [title.toLowerCase(), body.toLowerCase()]
  let sum = 0
  for (const word of wanted) {
    const times = inBody.split(word).length - 1
    const here = (inTitle.startsWith(word) ? 40 : inTitle.includes(word) ? 20 : 0) + Math.min(times, 8)
    if (here === 0) return 0
    sum += here
  }
  return sum
}

function item({ name, title, body }, word) {
  const entry = document.createElement('li')
  const link = document.createElement('a')
  link.href = `${up}/${name}.html`
  link.textContent = title
  const at = Math.max(0, body.toLowerCase().indexOf(word) - 40)
  const part = document.createElement('span')
  part.textContent = `${at > 0 ? '…' : ''}${body.slice(at, at + 120)}…`
  entry.append(link, part)
  return entry
}

function nothing(text) {
  const entry = document.createElement('li')
  entry.textContent = `No page has "${text.trim()}".`
  return entry
}
