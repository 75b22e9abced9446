/* What the sensors see, and a diary of what was read of it. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "board.h"

static float *table;
static size_t rows;
static FILE *diary;

void waves_load(void)
{
    if (!options.waves)
        return;
    FILE *file = fopen(options.waves, "rb");
    if (!file) {
        perror(options.waves);
        exit(1);
    }
    fseek(file, 0, SEEK_END);
    size_t size = (size_t)ftell(file);
    rewind(file);
    table = malloc(size);
    rows = size / (WAVES * sizeof *table);
    if (rows < 2 || fread(table, 1, size, file) != size) {
        fprintf(stderr, "%s: not enough waveform\n", options.waves);
        exit(1);
    }
    fclose(file);
}

/* Straight lines between the rows; held before the first and after the last. */
double wave(int column, double time_s)
{
    if (!rows)
        return 0.0;
    double place = (time_s - options.wave_start_s) * options.wave_rate_hz;
    place = fmin(fmax(place, 0.0), (double)rows - 1.000001);
    size_t row = (size_t)place;
    double share = place - (double)row;
    const float *here = table + row * WAVES + column;
    return here[0] + share * (here[WAVES] - here[0]);
}

void trace_open(void)
{
    if (options.trace)
        diary = fopen(options.trace, "wb");
}

void trace(int what, double time_s, int value)
{
    struct { double time_s; int32_t what, value; } entry = {time_s, what, value};
    if (diary)
        fwrite(&entry, sizeof entry, 1, diary);
}
