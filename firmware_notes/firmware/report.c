#include "report.h"

#include <avr/pgmspace.h>

#include "frame.h"
#include "parts.h"

enum { VERSION = 0x0100, U16 = 0x02, I16 = 0x82 };

/* From the sample's ticks to the moment the part is asked for its newest reading, measured. */
enum { SPI_ASKED_US = 27, I2C_ASKED_US = 112 };

struct counts stream_counts;

static const char name[] PROGMEM = LOGGER_NAME;
_Static_assert(sizeof name <= 33, "LOGGER_NAME has at most 32 characters");

static bool begin(uint8_t kind, uint32_t ticks, uint8_t body)
{
    return frame_begin(kind, (uint16_t)stream_counts.due, ticks, body);
}

static void text(const char *flash)
{
    uint8_t length = (uint8_t)strlen_P(flash);
    frame_u8(length);
    for (uint8_t i = 0; i < length; i++)
        frame_u8(pgm_read_byte(flash + i));
}

/* A count of 32 bits brought up to its new low half: never behind by half a turn. */
static void follow(uint32_t *count, uint16_t low) { *count += (uint16_t)(low - (uint16_t)*count); }

/* The lowest number means that the sensor failed; no reading may use it. */
enum { FAILED = -32768 };

static void no_reading(int16_t axes[3]) { axes[0] = axes[1] = axes[2] = FAILED; }

bool report_sample(const struct sample *sample)
{
    int16_t spi[3], i2c[3];
    const uint16_t *analog = sample->analog;
    if (!frame_begin(FRAME_SAMPLE, sample->sequence, sample->ticks, FRAME_HEADER + 2 * CHANNEL_COUNT))
        return false;
    if (!SPI_COUNT || !sample->spi_good || !spi_part_axes(sample->spi, spi))
        no_reading(spi);
    no_reading(i2c);
    if (I2C_COUNT && sample->i2c_good)
        i2c_part_axes(sample->i2c, i2c);
    for (uint8_t i = 0; i < CHANNEL_COUNT; i++) {
        uint8_t source = pgm_read_byte(&channel_table[i].source);
        uint8_t place = pgm_read_byte(&channel_table[i].place);
        frame_u16(source == SOURCE_ANALOG ? *analog++
                                          : (uint16_t)(source == SOURCE_SPI ? spi : i2c)[place]);
    }
    frame_end();
    follow(&stream_counts.due, sample->sequence + 1);
    follow(&stream_counts.missed, sample->missed);
    follow(&stream_counts.dropped, sample->dropped);
    return true;
}

bool report_status(bool sampling, uint8_t refused)
{
    struct counts now;
    if (scan_counts(&now))
        stream_counts = now;
    if (!begin(FRAME_STATUS, clock_ticks(), FRAME_HEADER + 16))
        return false;
    frame_u32(stream_counts.due);
    frame_u32(stream_counts.missed);
    frame_u32(stream_counts.dropped);
    frame_u16(scan_supply_mv());
    frame_u8(sampling);
    frame_u8(refused);
    frame_end();
    return true;
}

bool report_logger(uint16_t interval_ticks)
{
    uint32_t per_kilosecond = TICKS_PER_SECOND * 1000;
    if (!begin(FRAME_LOGGER, clock_ticks(), FRAME_HEADER + 15 + sizeof name))
        return false;
    frame_u8(CHANNEL_COUNT);
    frame_u32(TICKS_PER_SECOND);
    frame_u32((per_kilosecond + interval_ticks / 2) / interval_ticks);
    frame_u32(DEVICE_NUMBER);
    frame_u16(VERSION);
    text(name);
    frame_end();
    return true;
}

/* When the reading of a channel was true, from the sample's ticks. */
static int32_t instant_ns(uint8_t index)
{
    const struct channel *channel = &channel_table[index];
    uint8_t source = pgm_read_byte(&channel->source), slot = 0;
    int32_t asked_us;
    for (uint8_t i = 0; i < index; i++)
        slot += pgm_read_byte(&channel_table[i].source) == SOURCE_ANALOG;
    if (source == SOURCE_ANALOG)
        asked_us = HOLD_US + (int32_t)slot * SLOT_TICKS * TICK_US;
    else if (source == SOURCE_SPI)
        asked_us = SPI_ASKED_US - SPI_PART_DELAY_US;
    else
        asked_us = I2C_ASKED_US - I2C_PART_DELAY_US;
    return (asked_us - (int32_t)pgm_read_word(&channel->delay_us)) * 1000;
}

bool report_channel(uint8_t index)
{
    const struct channel *channel = &channel_table[index];
    uint8_t length = (uint8_t)(strlen_P(channel->unit) + strlen_P(channel->name));
    if (!begin(FRAME_CHANNEL, clock_ticks(), FRAME_HEADER + 26 + length))
        return false;
    frame_u8(index);
    frame_u8(pgm_read_byte(&channel->measure));
    frame_u8(pgm_read_byte(&channel->corner));
    frame_u8(pgm_read_byte(&channel->source) == SOURCE_ANALOG ? U16 : I16);
    /* Floats go out as they lie in flash: IEEE 754 single, low byte first. */
    frame_u32(pgm_read_dword(&channel->scale));
    frame_u32(pgm_read_dword(&channel->offset));
    frame_u32(pgm_read_dword(&channel->low));
    frame_u32(pgm_read_dword(&channel->high));
    frame_u32((uint32_t)instant_ns(index));
    text(channel->unit);
    text(channel->name);
    frame_end();
    return true;
}

bool report_mark(bool by_command, uint32_t ticks, uint32_t number)
{
    if (!begin(FRAME_MARK, ticks, FRAME_HEADER + 5))
        return false;
    frame_u8(by_command);
    frame_u32(number);
    frame_end();
    return true;
}
