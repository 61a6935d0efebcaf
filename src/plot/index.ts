/** Small drawings and text tables, pure: data in, SVG or lines of text out. Comes after `units/`. */
export * from './bar-chart.js'
export { type ChartData, valuesAt, xAt } from './chart-data.js'
export * from './exported.js'
export * from './frame.js'
export * from './line-chart.js'
export * from './text.js'
export * from './ticks.js'
