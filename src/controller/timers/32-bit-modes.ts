/**
 * Modes of the 32-bit controllers' timers, by the data sheets named in `../chips/`. Register names are the sheets' own;
 * values are given as far as the sheets' passages at hand show them.
 */
import type { TimerInfo } from '../chips/index.js'
import { counted, loads, type Names, only, put, softPin } from './counted-mode.js'
import { channelsOf, type Mode, noOpposite, type Setting, type Use } from './mode.js'

const samdWave = (u: Use, mode: string) => [
  put(
    `${u.timer.name}.${u.timer.kind === 'tcc' ? 'WAVE' : 'CTRLA'}`,
    `${u.timer.kind === 'tcc' ? 'WAVEGEN' : 'MODE_COUNT16 | WAVEGEN'}_${mode}`,
    'waveform',
  ),
  put(`${u.timer.name}.INTENSET`, 'OVF', 'interrupt at the end of every run of the counter'),
  put(
    `${u.timer.name}.CTRLA`,
    `PRESCALER_DIV${u.divider} | ENABLE`,
    `clock divided by ${u.divider}; written last`,
  ),
]

const tccInvert = (u: Use) =>
  u.opposite
    ? [put(`${u.timer.name}.DRVCTRL`, `INVEN${u.opposite.channel.slice(2)}`, 'the second output inverted')]
    : []

const tccNames: Names = {
  says: (t, c) =>
    `single-slope PWM of ${t.name}, bit period in PER, edge at half of it by CC${c.slice(2)}; both double-buffered`,
  top: (u) => `${u.timer.name}.PERB`,
  edge: (u, c) => `${u.timer.name}.CCB${c.slice(2)}`,
  setup: (u) => [...tccInvert(u), ...samdWave(u, 'NPWM')],
  interrupt: (u) => `${u.timer.name}_Handler`,
}

export const TCC_MODES: readonly Mode[] = [
  {
    ...counted('dma', 'fed', 'list', {
      ...tccNames,
      says: (t) =>
        `single-slope PWM of ${t.name}, a DMA channel feeds PERB and CCB from a list at every overflow`,
      setup: (u) => tccNames.setup(u).filter((s) => !s.register.endsWith('INTENSET')),
      interrupt: () => 'DMAC, at the end of a list',
    }),
    loads: (u) => loads(tccNames, 'bit', u),
    // Two lists of one packet each in turn; the shortest packet has 14 + 3 · 9 + 1 bits.
    listBits: 42,
  },
  counted('npwm', 'buffered', 'bit-next', tccNames),
  counted(
    'nfrq',
    'toggle',
    'half-next',
    {
      says: (t) => `frequency mode of ${t.name}, top in CC0, the compare toggles WO0; double-buffered`,
      top: (u) => `${u.timer.name}.CCB0`,
      setup: (u) => samdWave(u, 'NFRQ'),
      interrupt: (u) => `${u.timer.name}_Handler`,
    },
    only('WO0'),
    noOpposite,
  ),
  softPin({
    says: (t) => `${t.name} counts to PER (double-buffered), the interrupt writes the pin`,
    top: (u) => `${u.timer.name}.PERB`,
    setup: (u) => samdWave(u, 'NFRQ'),
    interrupt: (u) => `${u.timer.name}_Handler`,
  }),
]

export const TC_MODES: readonly Mode[] = [
  counted(
    'mpwm',
    'buffered',
    'bit-now',
    {
      says: (t) => `match PWM of ${t.name}, bit period in CC0, edge at half of it by CC1; not buffered`,
      top: (u) => `${u.timer.name}.CC0`,
      edge: (u) => `${u.timer.name}.CC1`,
      setup: (u) => samdWave(u, 'MPWM'),
      interrupt: (u) => `${u.timer.name}_Handler`,
    },
    only('WO1'),
    noOpposite,
  ),
  counted(
    'mfrq',
    'toggle',
    'half-now',
    {
      says: (t) => `match frequency mode of ${t.name}, top in CC0, the compare toggles WO0; not buffered`,
      top: (u) => `${u.timer.name}.CC0`,
      setup: (u) => samdWave(u, 'MFRQ'),
      interrupt: (u) => `${u.timer.name}_Handler`,
    },
    only('WO0'),
    noOpposite,
  ),
  softPin({
    says: (t) => `match frequency mode of ${t.name}, the interrupt writes the pin`,
    top: (u) => `${u.timer.name}.CC0`,
    setup: (u) => samdWave(u, 'MFRQ'),
    interrupt: (u) => `${u.timer.name}_Handler`,
  }),
]

const sliceNames: Names = {
  says: (t, c) => `${t.name}, wrap is the bit period, channel ${c} falls at half of it; both double-buffered`,
  top: (u) => `CH${u.timer.number}_TOP`,
  edge: (u, c) => `CH${u.timer.number}_CC.${c}`,
  setup: (u) => [
    put(`CH${u.timer.number}_DIV`, `${u.divider} << 4`, `clock divided by ${u.divider}, no fraction`),
    ...(u.opposite
      ? [put(`CH${u.timer.number}_CSR.${u.opposite.channel}_INV`, '1', 'the second output inverted')]
      : []),
    put('INTE', `1 << ${u.timer.number}`, 'interrupt at every wrap'),
    put(`CH${u.timer.number}_CSR.EN`, '1', 'start'),
  ],
  interrupt: () => 'PWM_IRQ_WRAP',
}

export const SLICE_MODES: readonly Mode[] = [
  {
    ...counted('slice-dma', 'fed', 'list', {
      ...sliceNames,
      says: (t, c) =>
        `${t.name} channel ${c}, a DMA channel feeds wrap and compare from a list at every wrap`,
      interrupt: () => 'DMA_IRQ_0, at the end of a list',
    }),
    loads: (u) => loads(sliceNames, 'bit', u),
    listBits: 42,
  },
  counted('slice', 'buffered', 'bit-next', sliceNames),
]

export const PIO_MODES: readonly Mode[] = [
  {
    id: 'pio',
    method: 'fed',
    behaviour: 'list',
    says: (t) => `a state machine of ${t.name} takes bits from its queue and times the halves itself`,
    channels: () => 'pins',
    opposites: () => ['any'],
    settings: (u) => [
      put(`SM_CLKDIV`, `${u.divider} << 16`, `clock divided by ${u.divider}, no fraction`),
      put(
        'SM_SHIFTCTRL',
        'AUTOPULL | PULL_THRESH 0 (32 bits) | FJOIN_TX',
        'queue of eight words, 32 bits each',
      ),
      put(
        'SM_PINCTRL',
        `SET_BASE / SIDESET_BASE ${u.pin}${u.opposite ? `, ${u.opposite.pin} must be the next pin` : ''}`,
        'output',
      ),
    ],
    loads: (u) => [
      {
        register: 'loop counts of the program, ticks of a half',
        one: u.oneTicks,
        zero: u.zeroTicks,
        says: 'instructions of the loop are counted in',
      },
    ],
    interrupt: () => 'PIO0_IRQ_0, queue not full',
    // Asked for more when half of the eight joined words are left.
    listBits: 4 * 32,
  },
]

export const ALARM_MODES: readonly Mode[] = [
  softPin({
    says: () => 'alarm at a time in whole microseconds, the interrupt writes the pin and sets the next alarm',
    top: () => 'ALARM0, added to the last alarm time (not minus one)',
    setup: () => [put('INTE', '1', 'interrupt at every alarm')],
    interrupt: () => 'TIMER_IRQ_0',
  }),
]

const timBase = (u: Use): Setting[] => [
  put(`TIM${u.timer.number}_PSC`, String(u.divider - 1), `clock divided by ${u.divider}`),
  put(`TIM${u.timer.number}_CR1`, 'ARPE | CEN', 'period preloaded; start, written last'),
]
const timInvert = (u: Use) =>
  u.opposite
    ? [
        put(
          `TIM${u.timer.number}_CCER`,
          u.opposite.channel.startsWith('/')
            ? `CC${u.opposite.channel.slice(1)}NE`
            : `CC${u.opposite.channel}P`,
          'the second output with the opposite level',
        ),
      ]
    : []
const timChannels = (t: TimerInfo) => channelsOf(t).filter((c) => !c.startsWith('/'))
const timNames: Names = {
  says: (t, c) => `PWM mode 1 of ${t.name}, bit period in ARR, edge at half of it by CCR${c}; both preloaded`,
  top: (u) => `TIM${u.timer.number}_ARR`,
  edge: (u, c) => `TIM${u.timer.number}_CCR${c.replace('/', '')}`,
  setup: (u) => [
    put(
      `TIM${u.timer.number}_CCMR`,
      `OC${u.channel}M = 110, OC${u.channel}PE`,
      'PWM mode 1, compare preloaded',
    ),
    ...timInvert(u),
    put(`TIM${u.timer.number}_DIER`, 'UIE', 'interrupt at every update'),
    ...timBase(u),
  ],
  interrupt: (u) => `TIM${u.timer.number}_${u.timer.number === 1 ? 'UP_' : ''}IRQHandler`,
}
const timOpposites = (t: TimerInfo, c: string) => channelsOf(t).filter((x) => x !== c)

export const TIM_MODES: readonly Mode[] = [
  {
    ...counted(
      'tim-dma',
      'fed',
      'list',
      {
        ...timNames,
        says: (t, c) =>
          `PWM mode 1 of ${t.name} on channel ${c}, a DMA burst feeds ARR and CCR from a list at every update`,
        interrupt: () => 'DMA1 channel, half and end of the list',
      },
      timChannels,
      timOpposites,
    ),
    loads: (u) => loads(timNames, 'bit', u),
    listBits: 42,
  },
  counted('tim-pwm', 'buffered', 'bit-next', timNames, timChannels, timOpposites),
  counted(
    'tim-toggle',
    'toggle',
    'half-next',
    {
      says: (t, c) => `toggle on match of ${t.name} channel ${c}, half-bit in ARR, preloaded`,
      top: (u) => `TIM${u.timer.number}_ARR`,
      setup: (u) => [
        put(`TIM${u.timer.number}_CCMR`, `OC${u.channel}M = 011`, 'toggle on match; CCR stays 0'),
        put(`TIM${u.timer.number}_DIER`, 'UIE', 'interrupt at every edge'),
        ...timBase(u),
      ],
      interrupt: timNames.interrupt,
    },
    timChannels,
    noOpposite,
  ),
  softPin({
    says: (t) => `${t.name} counts to ARR (preloaded), the interrupt writes the pin`,
    top: (u) => `TIM${u.timer.number}_ARR`,
    setup: (u) => [put(`TIM${u.timer.number}_DIER`, 'UIE', 'interrupt at every update'), ...timBase(u)],
    interrupt: timNames.interrupt,
  }),
]

export const RMT_MODES: readonly Mode[] = [
  {
    id: 'rmt',
    method: 'fed',
    behaviour: 'list',
    says: (t) => `${t.name}: one item of two durations is one bit; refilled half a block at a time`,
    channels: () => 'pins',
    opposites: noOpposite,
    settings: (u) => [
      put(
        `RMT_CH${u.timer.number}CONF0`,
        `DIV_CNT ${u.divider}, MEM_SIZE 1`,
        `bus clock divided by ${u.divider}`,
      ),
      put(`RMT_CH${u.timer.number}_TX_LIM`, '32', 'refill interrupt after half a block of 64 items'),
      put('RMT_APB_CONF', 'MEM_TX_WRAP_EN', 'wrap inside the block'),
    ],
    loads: (u) => [
      {
        register: 'item: high ticks, low ticks',
        one: u.oneTicks,
        zero: u.zeroTicks,
        says: 'both durations of the item',
      },
    ],
    interrupt: () => 'RMT, threshold',
    listBits: 32,
  },
]

export const GROUP_MODES: readonly Mode[] = [
  softPin({
    says: (t) => `${t.name} with automatic reload, the interrupt writes the pin`,
    top: (u) => `TIMG alarm value of timer ${u.timer.number} (not minus one)`,
    setup: (u) => [
      put('TIMG_T0CONFIG', `DIVIDER ${u.divider}, AUTORELOAD, ALARM_EN`, `bus clock divided by ${u.divider}`),
    ],
    interrupt: () => 'timer group interrupt',
  }),
]

const gptNames: Names = {
  says: (t, c) =>
    `saw-wave PWM of ${t.name}, bit period in GTPR, edge at half of it by GTCCR${c}; buffer registers (from memory)`,
  top: (u) => `GPT${u.timer.number}.GTPBR`,
  edge: (u, c) => `GPT${u.timer.number}.GTCCR${c === 'A' ? 'C' : 'E'} (buffer of GTCCR${c})`,
  setup: (u) => [
    put(
      `GPT${u.timer.number}.GTCR`,
      `MD saw-wave PWM, TPCS /${u.divider}, CST`,
      `clock divided by ${u.divider}`,
    ),
    put(`GPT${u.timer.number}.GTBER`, 'CCRA 01, CCRB 01, PR 01', 'single buffers'),
    put(
      `GPT${u.timer.number}.GTIOR`,
      `GTIO${u.channel}${u.opposite ? ` and, inverted, GTIO${u.opposite.channel}` : ''}`,
      'high at the end of the period, low at the match',
    ),
  ],
  interrupt: (u) => `GPT${u.timer.number} overflow event`,
}

export const GPT_MODES: readonly Mode[] = [
  counted('gpt-pwm', 'buffered', 'bit-next', gptNames),
  softPin({
    says: (t) => `${t.name} counts to GTPR (buffered), the interrupt writes the pin`,
    top: (u) => `GPT${u.timer.number}.GTPBR`,
    setup: (u) => [
      put(
        `GPT${u.timer.number}.GTCR`,
        `MD saw-wave, TPCS /${u.divider}, CST`,
        `clock divided by ${u.divider}`,
      ),
    ],
    interrupt: gptNames.interrupt,
  }),
]
