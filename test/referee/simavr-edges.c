// Referee: runs firmware on libsimavr and writes the changes of one pin as VCD (IEEE 1364), or only runs it, for time.
//
// use: simavr-edges ELF MCU HZ PORT BIT MICROSECONDS [--vcd FILE] [--serial PORT BYTES_PER_SECOND]
//      [--say MICROSECONDS TEXT]...
//
// Bytes for the serial port are 0, 1, 2 … at even intervals. A text goes to port 0 at 38400 baud, with a line feed. Prints cycles run and seconds taken.
// What simavr 1.6 is known to do otherwise than the chip: interrupt entry costs nothing, mode 15 is not buffered,
// edges of compare outputs wander by some cycles, a compare value written below the count is not missed.
#include <simavr/avr_ioport.h>
#include <simavr/avr_uart.h>
#include <simavr/sim_avr.h>
#include <simavr/sim_elf.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

static FILE *vcd;
static double ps_per_cycle;
static int level = -1;

static void silent(avr_t *avr, const int verbosity, const char *format, va_list ap) {
  (void)avr;
  (void)verbosity;
  (void)format;
  (void)ap;
}

static void changed(struct avr_irq_t *irq, uint32_t value, void *param) {
  (void)irq;
  avr_t *avr = param;
  int now = value & 1; // the value carries flags above the level
  if (now == level) return;
  level = now;
  if (vcd) fprintf(vcd, "#%.0f\n%d!\n", avr->cycle * ps_per_cycle, now);
}

static avr_irq_t *serial;
static avr_cycle_count_t serial_every;
static uint8_t serial_next;

static avr_cycle_count_t send_byte(avr_t *avr, avr_cycle_count_t when, void *param) {
  (void)avr;
  (void)param;
  avr_raise_irq(serial, serial_next++);
  return when + serial_every;
}

#define MOST_TEXTS 32
static struct say {
  avr_cycle_count_t at;
  const char *text;
} says[MOST_TEXTS];
static int say_count;
static avr_cycle_count_t byte_cycles;

static avr_cycle_count_t say_byte(avr_t *avr, avr_cycle_count_t when, void *param) {
  (void)avr;
  struct say *s = param;
  avr_raise_irq(serial, *s->text ? (uint8_t)*s->text : '\n');
  return *s->text++ ? when + byte_cycles : 0;
}

int main(int argc, char **argv) {
  if (argc < 7) {
    fprintf(stderr, "use: simavr-edges ELF MCU HZ PORT BIT MICROSECONDS [--vcd FILE] [--serial PORT BYTES_PER_SECOND]\n");
    return 2;
  }
  const char *file = argv[1], *mcu = argv[2];
  double hz = atof(argv[3]);
  char port = argv[4][0];
  int bit = atoi(argv[5]);
  avr_cycle_count_t until = (avr_cycle_count_t)(atof(argv[6]) * hz / 1e6);

  avr_global_logger_set(silent);
  elf_firmware_t firmware;
  memset(&firmware, 0, sizeof firmware);
  if (elf_read_firmware(file, &firmware) != 0) {
    fprintf(stderr, "cannot read %s\n", file);
    return 2;
  }
  avr_t *avr = avr_make_mcu_by_name(mcu);
  if (!avr) {
    fprintf(stderr, "no controller %s\n", mcu);
    return 2;
  }
  avr_init(avr);
  firmware.frequency = (uint32_t)hz;
  avr_load_firmware(avr, &firmware);
  avr->frequency = (uint32_t)hz;
  ps_per_cycle = 1e12 / hz;

  for (int i = 7; i < argc; i++) {
    if (!strcmp(argv[i], "--vcd") && i + 1 < argc) {
      vcd = fopen(argv[++i], "w");
      if (!vcd) return 2;
      fprintf(vcd, "$timescale 1 ps $end\n$scope module %s $end\n$var wire 1 ! P%c%d $end\n", mcu, port, bit);
      fprintf(vcd, "$upscope $end\n$enddefinitions $end\n#0\n0!\n");
      level = 0;
    } else if (!strcmp(argv[i], "--serial") && i + 2 < argc) {
      char name = argv[++i][0];
      serial = avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ(name), UART_IRQ_INPUT);
      uint32_t flags = 0;
      avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS(name), &flags);
      serial_every = (avr_cycle_count_t)(hz / atof(argv[++i]));
      if (serial) avr_cycle_timer_register(avr, serial_every, send_byte, NULL);
    } else if (!strcmp(argv[i], "--say") && i + 2 < argc && say_count < MOST_TEXTS) {
      struct say *s = &says[say_count++];
      s->at = (avr_cycle_count_t)(atof(argv[++i]) * hz / 1e6);
      s->text = argv[++i];
      byte_cycles = (avr_cycle_count_t)(hz * 10 / 38400);
      serial = avr_io_getirq(avr, AVR_IOCTL_UART_GETIRQ('0'), UART_IRQ_INPUT);
      uint32_t flags = 0;
      avr_ioctl(avr, AVR_IOCTL_UART_SET_FLAGS('0'), &flags);
      if (serial) avr_cycle_timer_register(avr, s->at, say_byte, s);
    }
  }
  if (vcd) {
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ(port), bit), changed, avr);
  }

  struct timespec before, after;
  clock_t cpu = clock();
  clock_gettime(CLOCK_MONOTONIC, &before);
  int state = cpu_Running;
  while (avr->cycle < until && state != cpu_Done && state != cpu_Crashed) state = avr_run(avr);
  clock_gettime(CLOCK_MONOTONIC, &after);
  if (vcd) {
    fprintf(vcd, "#%.0f\n", avr->cycle * ps_per_cycle);
    fclose(vcd);
  }
  clock_t used = clock() - cpu;
  double seconds = (after.tv_sec - before.tv_sec) + (after.tv_nsec - before.tv_nsec) / 1e9;
  printf("{\"cycles\": %llu, \"seconds\": %.6f, \"cpuSeconds\": %.6f, \"state\": %d}\n", (unsigned long long)avr->cycle, seconds,
         (double)used / CLOCKS_PER_SEC, state);
  return state == cpu_Crashed ? 1 : 0;
}
