/** What the waveform is drawn with, as SVG: the part of a canvas's context that the drawing uses, nothing more. */
import { coordinate, drawnText } from '../../plot/index.js'

export class SvgContext {
  font = ''
  globalAlpha = 1
  fillStyle = '#000'
  strokeStyle = '#000'
  lineWidth = 1
  #dash: readonly number[] = []
  #path: string[] = []
  readonly #parts: string[] = []

  clearRect(): void {}

  setLineDash(dash: readonly number[]): void {
    this.#dash = dash
  }

  fillRect(x: number, y: number, width: number, height: number): void {
    this.#put(`<rect ${box(x, y, width, height)}${this.#fill()}/>`)
  }

  strokeRect(x: number, y: number, width: number, height: number): void {
    this.#put(`<rect ${box(x, y, width, height)} fill="none"${this.#stroke()}/>`)
  }

  fillText(text: string, x: number, y: number): void {
    this.#put(`<text x="${coordinate(x)}" y="${coordinate(y)}"${this.#fill()}>${drawnText(text)}</text>`)
  }

  beginPath(): void {
    this.#path = []
  }

  moveTo(x: number, y: number): void {
    this.#path.push(`M${coordinate(x)} ${coordinate(y)}`)
  }

  lineTo(x: number, y: number): void {
    this.#path.push(`${this.#path.length === 0 ? 'M' : 'L'}${coordinate(x)} ${coordinate(y)}`)
  }

  /** Whole circles only. */
  arc(x: number, y: number, r: number): void {
    const [left, right, radius] = [coordinate(x - r), coordinate(x + r), coordinate(r)]
    const half = (to: string) => `A${radius} ${radius} 0 0 1 ${to} ${coordinate(y)}`
    this.#path.push(`M${left} ${coordinate(y)}${half(right)}${half(left)}Z`)
  }

  stroke(): void {
    if (this.#path.length > 0) this.#put(`<path d="${this.#path.join('')}" fill="none"${this.#stroke()}/>`)
  }

  fill(): void {
    if (this.#path.length > 0) this.#put(`<path d="${this.#path.join('')}"${this.#fill()}/>`)
  }

  svg(width: number, height: number, title: string): string {
    return (
      `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 ${width} ${height}" width="${width}" height="${height}"` +
      ` role="img" font-family="ui-monospace, monospace" font-size="12"><title>${drawnText(title)}</title>` +
      `${this.#parts.join('')}</svg>\n`
    )
  }

  #put(element: string): void {
    this.#parts.push(element)
  }

  #fill(): string {
    return ` fill="${this.fillStyle}"${this.#faint('fill-opacity')}`
  }

  #stroke(): string {
    const dash = this.#dash.length > 0 ? ` stroke-dasharray="${this.#dash.join(' ')}"` : ''
    return ` stroke="${this.strokeStyle}" stroke-width="${this.lineWidth}"${dash}${this.#faint('stroke-opacity')}`
  }

  #faint(name: string): string {
    return this.globalAlpha < 1 ? ` ${name}="${this.globalAlpha}"` : ''
  }
}

function box(x: number, y: number, width: number, height: number): string {
  return `x="${coordinate(x)}" y="${coordinate(y)}" width="${coordinate(Math.max(0, width))}" height="${coordinate(Math.max(0, height))}"`
}
