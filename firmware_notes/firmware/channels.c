#include "channels.h"

#include <avr/pgmspace.h>

/* Numbers of the wire format. */
enum { SOMETHING, TRAVEL, BODY, HUB, CABIN, SEAT, ALONG, ACROSS, SPEED };
enum { NONE, FL, FR, RL, RR };

_Static_assert(CHANNEL_COUNT >= 1 && CHANNEL_COUNT <= 16, "1 to 16 channels");

#define ANALOG(pin, ...) {SOURCE_ANALOG, pin, __VA_ARGS__},
#define SPI_AXIS(axis, ...) {SOURCE_SPI, AXIS_##axis, __VA_ARGS__},
#define I2C_AXIS(axis, ...) {SOURCE_I2C, AXIS_##axis, __VA_ARGS__},
const struct channel channel_table[CHANNEL_COUNT] PROGMEM = {
#include "channel_table.h"
};
