/** The railroad: wires and rails, the network they make, voltage, shorts, polarity and ringing. */
export * from './conductor.data.js'
export * from './conductor.js'
export * from './design.js'
export * from './sparse/ldlt.js'
export * from './sparse/order.js'
export * from './sparse/update.js'
