export { starterCommands } from './commands.js'
export { type Starter, type StarterInput, starter } from './files.js'
export { STARTER_FINDINGS } from './findings.data.js'
export { type StarterPlan, starterPlan } from './plan.js'
