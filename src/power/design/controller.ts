/** The design file's keys of the controller's own power. */
import { shape, type Value } from '../../shape/index.js'
import { figure } from './figure.js'

export const controllerPowerShape = shape({
  kind: 'record',
  title: 'power of the controller',
  optional: true,
  keys: {
    from: {
      kind: 'choice',
      title: 'from',
      choices: { own: 'a supply of its own, or USB', track: 'the track supply, over its regulator' },
      default: 'own',
    },
    supply: { kind: 'text', title: 'supply', maxLength: 60, optional: true },
    regulator: {
      kind: 'choice',
      title: 'regulator',
      choices: {
        'linear SOT-223': 'linear, SOT-223 on a small board',
        'linear TO-220': 'linear, TO-220 without a sink',
        switching: 'switching',
      },
      default: 'linear SOT-223',
    },
    current: {
      kind: 'quantity',
      dimension: 'current',
      title: 'current of the controller and all it feeds',
      min: 0,
      max: 5,
      default: '50 mA',
    },
    voltage: {
      kind: 'quantity',
      dimension: 'voltage',
      title: 'output of the regulator',
      min: 1,
      max: 24,
      default: '5 V',
    },
    junctionToAmbient: figure('thermal', 'thermal resistance to the air', '90 K/W', { max: 500 }),
    junctionMax: {
      kind: 'quantity',
      dimension: 'temperature',
      title: 'highest junction temperature',
      min: 50,
      max: 200,
      optional: true,
      example: '125 C',
    },
    reservoir: {
      ...figure('capacitance', 'capacitor before the regulator, behind a diode', '2200 uF', { max: 1 }),
      help: 'Keeps the controller running while a short pulls down the supply that feeds it. Left out: not known, so no trip by firmware is relied on in such a short.',
    },
    inputMax: figure('voltage', 'highest input', '15 V', { max: 100 }),
    currentMax: figure('current', 'highest current', '0.8 A', { max: 10 }),
    efficiency: {
      kind: 'quantity',
      dimension: 'ratio',
      title: 'efficiency of a switching regulator',
      min: 0.2,
      max: 1,
      optional: true,
      example: '85 %',
    },
  },
})

export type ControllerPowerDesign = Value<typeof controllerPowerShape>
