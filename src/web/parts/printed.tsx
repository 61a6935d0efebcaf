/** What is printed in place of the screen: the same pages as the HTML report, in a shadow tree with the report's own style. */
import { useEffect } from 'preact/hooks'

const HOST = 'printed'
/** Marks the page while there is a report to print. */
const MARK = 'prints-report'
/** A report is made again when nothing has changed for so long. */
const REST_MS = 800

/** Drawings and styles of a report: what the content policy allows in an image and in a sheet, and not in the page. */
const DRAWING = /<svg\b(?:(?!<\/svg>)[\s\S])*?<style[\s\S]*?<\/svg>/g
const STYLE = /<style[^>]*>([\s\S]*?)<\/style>/g

/** Puts a report where printing finds it. */
function place(html: string): void {
  const styles: string[] = []
  const plain = html
    .replace(DRAWING, (svg) => {
      const title = /<title[^>]*>([^<]*)</.exec(svg)?.[1] ?? ''
      const alone = svg.includes('xmlns=')
        ? svg
        : svg.replace('<svg', '<svg xmlns="http://www.w3.org/2000/svg"')
      return `<img alt="${title}" src="data:image/svg+xml,${encodeURIComponent(alone)}">`
    })
    .replace(STYLE, (_, own: string) => {
      styles.push(own)
      return ''
    })
    // The screen has a main part of its own.
    .replace('<main>', '<div class="page">')
    .replace('</main>', '</div>')
  const report = new DOMParser().parseFromString(plain, 'text/html')
  const host = document.querySelector(`.${HOST}`) ?? document.createElement('div')
  host.className = HOST
  const root = host.shadowRoot ?? host.attachShadow({ mode: 'open' })
  const sheet = new CSSStyleSheet()
  // In a shadow tree the host is the root, and stands for the body.
  const own = styles
    .join('\n')
    .replaceAll(':root', ':host')
    .replaceAll(/\bbody\{/g, ':host{')
  sheet.replaceSync(`${own}img{max-width:100%}`)
  root.adoptedStyleSheets = [sheet]
  for (const folded of report.querySelectorAll('details')) folded.open = true
  root.replaceChildren(...report.body.childNodes)
  document.body.append(host)
  document.body.classList.add(MARK)
}

function clear(): void {
  document.querySelector(`.${HOST}`)?.remove()
  document.body.classList.remove(MARK)
}

/**
 * Keeps the report of what is in sight ready, as printing asks for it at once.
 * @param make the report as HTML, undefined while there is none; @param of what it is made from; @param restMs made when nothing has changed for so long.
 * @returns prints it, newly made.
 */
export function usePrinted(
  make: (() => Promise<string>) | undefined,
  of: readonly unknown[],
  restMs = REST_MS,
): () => Promise<void> {
  useEffect(() => {
    if (!make) return
    let isOld = false
    const timer = setTimeout(() => {
      void make().then((html) => {
        if (!isOld) place(html)
      })
    }, restMs)
    return () => {
      isOld = true
      clearTimeout(timer)
      clear()
    }
  }, of)
  return async () => {
    if (!make) return
    place(await make())
    print()
  }
}
