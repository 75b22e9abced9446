/* The channel table, counted and in flash. */
#ifndef CHANNELS_H
#define CHANNELS_H

#include <stdint.h>

enum { SOURCE_ANALOG, SOURCE_SPI, SOURCE_I2C };
enum { AXIS_X, AXIS_Y, AXIS_Z };

struct channel {
    uint8_t source;
    uint8_t place; /* pin or axis */
    uint8_t measure;
    uint8_t corner;
    float scale;
    float offset;
    int32_t low;
    int32_t high;
    uint16_t delay_us;
    char unit[9];
    char name[25];
};

/* Counted at compile time, so that buffers have the size they need. */
#define ANALOG(...) +1
#define SPI_AXIS(...) +0
#define I2C_AXIS(...) +0
enum { ANALOG_COUNT = 0
#include "channel_table.h"
};
#undef ANALOG
#undef SPI_AXIS
#undef I2C_AXIS
#define ANALOG(...) +0
#define SPI_AXIS(...) +1
#define I2C_AXIS(...) +0
enum { SPI_COUNT = 0
#include "channel_table.h"
};
#undef SPI_AXIS
#undef I2C_AXIS
#define SPI_AXIS(...) +0
#define I2C_AXIS(...) +1
enum { I2C_COUNT = 0
#include "channel_table.h"
};
#undef ANALOG
#undef SPI_AXIS
#undef I2C_AXIS

enum { CHANNEL_COUNT = ANALOG_COUNT + SPI_COUNT + I2C_COUNT };

extern const struct channel channel_table[CHANNEL_COUNT]; /* in flash: read with pgm_read_* */

#endif
