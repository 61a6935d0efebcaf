/*
 * The referee of the reader: adds up the intervals between the edges of a file, in one loop, again and again. Compiled by
 * gcc -O2, it is the same machine code in every run.
 *
 *   intervals FILE EDGES ROUNDS      FILE: EDGES times in ticks (double), then EDGES levels (one byte each)
 */
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

static double seconds(void) {
  struct timespec t;
  clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &t);
  return t.tv_sec + t.tv_nsec / 1e9;
}

int main(int argc, char **argv) {
  if (argc != 4) return 2;
  size_t edges = strtoul(argv[2], NULL, 10);
  int rounds = atoi(argv[3]);
  double *ticks = malloc(edges * sizeof *ticks);
  unsigned char *levels = malloc(edges);
  FILE *file = fopen(argv[1], "rb");
  if (!file || !ticks || !levels) return 1;
  if (fread(ticks, sizeof *ticks, edges, file) != edges || fread(levels, 1, edges, file) != edges) return 1;
  double sum[4] = {0, 0, 0, 0};
  double start = 0;
  /* The first round fills the cache and is not counted. */
  for (int round = 0; round <= rounds; round++) {
    if (round == 1) start = seconds();
    for (size_t i = 1; i < edges; i++)
      if (levels[i] != levels[i - 1]) sum[levels[i] & 3] += ticks[i] - ticks[i - 1];
  }
  printf("%.9f %.3f\n", (seconds() - start) / rounds, sum[0] + sum[1]);
  return 0;
}
