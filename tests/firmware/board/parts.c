/* An accelerometer of the common kind: registers, 1600 readings a second by its own clock, +-8 g in 16
 * bits, a low pass that delays by 587.5 us (900 us less half a reading's interval). */
#include <math.h>

#include "board.h"

enum { ID = 0x0F, CONTROL = 0x20, FORMAT = 0x23, DATA = 0x28 };
static const double LOW_PASS_DELAY_S = 587.5e-6;

/* Each part's clock is a little off, in its own way. */
struct part spi_part = {.first_column = WAVE_SPI, .rate_hz = 1600 * 1.007, .phase_s = 0.0001};
struct part i2c_part = {.first_column = WAVE_I2C, .rate_hz = 1600 * 0.994, .phase_s = 0.0003};

/* All axes belong to the part's newest reading. */
static void latch(struct part *part)
{
    bool on = part->registers[CONTROL] == 0xA7 && part->registers[FORMAT] == 0xA8;
    double reading = floor((now_s() - part->phase_s) * part->rate_hz);
    double instant_s = part->phase_s + reading / part->rate_hz - LOW_PASS_DELAY_S;
    for (int axis = 0; axis < 3; axis++) {
        double count = rint(wave(part->first_column + axis, instant_s) * 4096.0);
        int16_t value = on ? (int16_t)fmin(fmax(count, -32768), 32767) : 0;
        part->registers[DATA + 2 * axis] = (uint8_t)value;
        part->registers[DATA + 2 * axis + 1] = (uint16_t)value >> 8;
        trace(part->first_column + axis + 8, instant_s, value);
    }
    /* 64 and 65: when each part was asked. */
    trace(part == &spi_part ? 64 : 65, now_s(), 0);
}

uint8_t part_read(struct part *part)
{
    part->registers[ID] = 0x33;
    if (part->pointer == DATA)
        latch(part);
    uint8_t value = part->registers[part->pointer];
    if (part->increment)
        part->pointer = (part->pointer + 1) & 127;
    return value;
}

void part_write(struct part *part, uint8_t value) { part->registers[part->pointer] = value; }
