/** Modes of the timers of the newer 8-bit AVR family (data sheet of the ATmega4809). Register names are the sheet's own. */
import { counted, only, put, softPin } from './counted-mode.js'
import { type Mode, noOpposite, type Use } from './mode.js'

const tcaClock = (u: Use) =>
  put(
    'TCA0.SINGLE.CTRLA',
    `TCA_SINGLE_CLKSEL_DIV${u.divider}_gc | TCA_SINGLE_ENABLE_bm`,
    `clock divided by ${u.divider}`,
  )

export const TCA_MODES: readonly Mode[] = [
  counted('single-slope', 'buffered', 'bit-next', {
    says: (_, c) =>
      `single-slope PWM, bit period in PER, edge at half of it by CMP${c.slice(2)}; both double-buffered`,
    top: () => 'TCA0.SINGLE.PERBUF',
    edge: (_, c) => `TCA0.SINGLE.CMP${c.slice(2)}BUF`,
    setup: (u) => [
      put(
        'TCA0.SINGLE.CTRLB',
        `TCA_SINGLE_WGMODE_SINGLESLOPE_gc | TCA_SINGLE_CMP${u.channel.slice(2)}EN_bm`,
        'high from the start of a bit to the middle of it',
      ),
      ...(u.opposite
        ? [
            put(
              `PORT${u.opposite.pin[1]}.PIN${u.opposite.pin[2]}CTRL`,
              'PORT_INVEN_bm',
              'the second output inverted',
            ),
          ]
        : []),
      put('TCA0.SINGLE.INTCTRL', 'TCA_SINGLE_OVF_bm', 'interrupt at the start of every bit'),
      tcaClock(u),
    ],
    interrupt: () => 'TCA0_OVF_vect',
  }),
  counted(
    'frequency',
    'toggle',
    'half-next',
    {
      says: () => 'frequency mode, top in CMP0, the compare toggles WO0; double-buffered',
      top: () => 'TCA0.SINGLE.CMP0BUF',
      setup: (u) => [
        put(
          'TCA0.SINGLE.CTRLB',
          'TCA_SINGLE_WGMODE_FRQ_gc | TCA_SINGLE_CMP0EN_bm',
          'the compare toggles the output',
        ),
        put('TCA0.SINGLE.INTCTRL', 'TCA_SINGLE_OVF_bm', 'interrupt at every edge'),
        tcaClock(u),
      ],
      interrupt: () => 'TCA0_OVF_vect',
    },
    only('WO0'),
    noOpposite,
  ),
  softPin({
    says: () => 'normal mode, top in PER (double-buffered), the interrupt writes the pin',
    top: () => 'TCA0.SINGLE.PERBUF',
    setup: (u) => [
      put('TCA0.SINGLE.INTCTRL', 'TCA_SINGLE_OVF_bm', 'interrupt at every half-bit'),
      tcaClock(u),
    ],
    interrupt: () => 'TCA0_OVF_vect',
  }),
]

export const TCB_MODES: readonly Mode[] = [
  softPin({
    says: (t) => `periodic interrupt mode, top in ${t.name}.CCMP, the interrupt writes the pin`,
    top: (u) => `${u.timer.name}.CCMP`,
    setup: (u) => [
      put(`${u.timer.name}.CTRLB`, 'TCB_CNTMODE_INT_gc', 'periodic interrupt'),
      put(`${u.timer.name}.INTCTRL`, 'TCB_CAPT_bm', 'interrupt at every half-bit'),
      put(
        `${u.timer.name}.CTRLA`,
        `TCB_CLKSEL_CLKDIV${u.divider}_gc | TCB_ENABLE_bm`,
        `clock divided by ${u.divider}`,
      ),
    ],
    interrupt: (u) => `${u.timer.name}_INT_vect`,
  }),
]
