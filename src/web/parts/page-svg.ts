/** A drawing of the page itself as an SVG text that needs the page's styles no more. */
import type { Scheme } from '../../plot/index.js'

const KEPT = [
  'fill',
  'fill-opacity',
  'stroke',
  'stroke-width',
  'stroke-dasharray',
  'stroke-opacity',
  'color',
  'opacity',
  'font-size',
  'font-weight',
  'stroke-linecap',
  'stroke-linejoin',
] as const

/** Every style rule of the page, and the colours that it sets for a scheme. */
function rulesOf(scheme: Scheme): { rules: CSSStyleRule[]; colours: Map<string, string> } {
  const rules: CSSStyleRule[] = []
  const colours = new Map<string, string>()
  const take = (list: CSSRuleList) => {
    for (const rule of list) {
      if (rule instanceof CSSMediaRule) {
        const dark = rule.conditionText.includes('prefers-color-scheme')
        if (dark ? scheme === 'dark' : matchMedia(rule.conditionText).matches) take(rule.cssRules)
      } else if (rule instanceof CSSStyleRule) {
        rules.push(rule)
        if (rule.selectorText !== ':root') continue
        for (const name of rule.style)
          if (name.startsWith('--')) colours.set(name, rule.style.getPropertyValue(name).trim())
      }
    }
  }
  for (const sheet of document.styleSheets) take(sheet.cssRules)
  return { rules, colours }
}

/** @param svg with a `viewBox` from 0 0. */
export function pageSvg(svg: SVGSVGElement, scheme: Scheme): string {
  const { rules, colours } = rulesOf(scheme)
  const plain = (value: string) =>
    value.replace(/var\((--[\w-]+)\)/g, (whole, name: string) => colours.get(name) ?? whole)
  const copy = svg.cloneNode(true) as SVGSVGElement
  const originals = [svg, ...svg.querySelectorAll('*')]
  const copies = [copy, ...copy.querySelectorAll('*')]
  originals.forEach((element, i) => {
    const own = new Map<string, string>()
    for (const { selectorText, style } of rules) {
      if (!KEPT.some((name) => style.getPropertyValue(name)) || !element.matches(selectorText)) continue
      for (const name of KEPT) {
        const value = style.getPropertyValue(name)
        if (value) own.set(name, plain(value))
      }
    }
    const target = copies[i]!
    // Attributes, not styles: the page's policy allows no styles written in place.
    for (const [name, value] of own) target.setAttribute(name, value)
    for (const name of ['class', 'tabindex']) target.removeAttribute(name)
  })
  const ink = colours.get('--ink') ?? 'currentColor'
  copy.setAttribute('xmlns', 'http://www.w3.org/2000/svg')
  copy.setAttribute('font-family', 'system-ui, sans-serif')
  copy.setAttribute('font-size', '12')
  if (!copy.hasAttribute('fill')) copy.setAttribute('fill', ink)
  if (!copy.hasAttribute('color')) copy.setAttribute('color', ink)
  return new XMLSerializer().serializeToString(copy)
}

/** The page's own colours in a scheme, by name: `ink`, `signal`. */
export function schemeColours(scheme: Scheme): (name: string) => string {
  const { colours } = rulesOf(scheme)
  return (name) => colours.get(`--${name}`) ?? '#808080'
}
