/* Sampling: the timer starts every conversion by itself, interrupts only collect. */
#ifndef SCAN_H
#define SCAN_H

#include <stdbool.h>
#include <stdint.h>

#include "channels.h"
#include "clock.h"
#include "config.h"
#include "i2c_part.h"
#include "spi_part.h"

enum {
    /* 13.5 ADC clocks for the conversion, and 36 us or more for the interrupt that takes it away: the bytes
     * of the SPI part and of the line may keep it waiting for 26 us. The input settles meanwhile. */
    SLOT_TICKS = ADC_DIVIDER == 128 ? 36 : 24,
    /* The timer's flag rises as its count goes past the match; 2 ADC clocks later the input is held. */
    HOLD_US = TICK_US + 2 * ADC_DIVIDER / 16,
    /* Long enough for the digital parts as well: 310 us on I2C, 90 us on SPI. */
    DIGITAL_TICKS = I2C_COUNT ? 100 : SPI_COUNT ? 30 : 1,
    DIGITAL_SLOTS = (DIGITAL_TICKS + SLOT_TICKS - 1) / SLOT_TICKS,
    SCAN_SLOTS = ANALOG_COUNT > DIGITAL_SLOTS ? ANALOG_COUNT : DIGITAL_SLOTS,
    SCAN_TICKS = SCAN_SLOTS * SLOT_TICKS,
};

struct sample {
    uint32_t ticks;
    uint16_t sequence;
    uint16_t missed, dropped; /* counts of all samples before this one, low halves */
    bool spi_good, i2c_good;
    uint16_t analog[ANALOG_COUNT]; /* as they come: interrupts leave the rest to the main loop */
    uint8_t spi[SPI_COUNT ? SPI_BYTES : 0];
    uint8_t i2c[I2C_COUNT ? I2C_BYTES : 0];
};

struct counts {
    uint32_t due, missed, dropped;
};

void scan_setup(void);
void scan_start(uint16_t interval_ticks); /* only while scan_stopped() */
void scan_stop(void);                     /* the sample under way is finished */
bool scan_running(void);
bool scan_stopped(void);                  /* not running, nothing under way, all samples taken away */

const struct sample *scan_oldest(void); /* NULL: none */
void scan_discard_oldest(void);
/* Counts up to now, if nothing is under way or waiting; else false. */
bool scan_counts(struct counts *counts);

void scan_measure_supply(void); /* once a second; between two scans while running */
uint16_t scan_supply_mv(void);  /* 0: not measured */

#endif
