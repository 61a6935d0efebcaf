/** A part that a design does not have yet, with everything that makes it sound; loaded when it is first asked for. */
export { addToDesign } from '../../design/index.js'
