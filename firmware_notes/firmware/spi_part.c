#include "spi_part.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/pgmspace.h>

#include "parts.h"

enum { SELECT = PB2, DATA_OUT = PB3, DATA_IN = PB4, CLOCK = PB5 };

static const uint8_t setup[][2] PROGMEM = SPI_SETUP;

static volatile bool present; /* while false the scan leaves the bus alone */
static volatile bool done;
static volatile uint8_t count; /* bytes exchanged in this reading */
static uint8_t *into;

static void select(void) { PORTB &= (uint8_t)~_BV(SELECT); }
static void release(void) { PORTB |= _BV(SELECT); }

/* 1 MHz: an interrupt every 8 us leaves the others room. */
enum { SPI_ON = _BV(SPE) | _BV(MSTR) | _BV(CPOL) | _BV(CPHA) | _BV(SPR0) };

static uint8_t exchange(uint8_t byte)
{
    SPDR = byte;
    while (!(SPSR & _BV(SPIF)))
        ;
    return SPDR;
}

static uint8_t read_register(uint8_t number)
{
    select();
    exchange(number | SPI_READ);
    uint8_t value = exchange(0);
    release();
    return value;
}

void spi_part_setup(void)
{
    release();
    DDRB |= _BV(SELECT) | _BV(DATA_OUT) | _BV(CLOCK);
    PORTB |= _BV(DATA_IN); /* pull-up: a part that is not there reads FF */
    spi_part_mend();
}

void spi_part_mend(void)
{
    if (present)
        return;
    SPCR = SPI_ON;
    if (read_register(SPI_ID_REGISTER) != SPI_ID_VALUE)
        return;
    for (uint8_t i = 0; i < sizeof setup / sizeof setup[0]; i++) {
        select();
        exchange(pgm_read_byte(&setup[i][0]));
        exchange(pgm_read_byte(&setup[i][1]));
        release();
    }
    SPCR = SPI_ON | _BV(SPIE);
    present = true;
}

void spi_part_begin(uint8_t *bytes)
{
    into = bytes;
    done = false;
    if (!present)
        return;
    count = 0;
    select();
    SPDR = SPI_DATA_REGISTER | SPI_READ | SPI_MANY;
}

ISR(SPI_STC_vect)
{
    uint8_t byte = SPDR, place = count++;
    if (place)
        into[place - 1] = byte;
    if (place < SPI_BYTES) {
        SPDR = 0;
        return;
    }
    release();
    done = true;
}

bool spi_part_end(void) { return done; }

bool spi_part_axes(const uint8_t *bytes, int16_t axes[3])
{
    bool same = true;
    for (uint8_t i = 0; i < SPI_BYTES; i++)
        same = same && bytes[i] == bytes[0];
    /* A line that stands still is no reading: the part is gone, or has lost its supply. */
    if (same && (bytes[0] == 0 || bytes[0] == 0xFF)) {
        present = false;
        return false;
    }
    for (uint8_t axis = 0; axis < 3; axis++) {
        uint8_t first = bytes[2 * axis], second = bytes[2 * axis + 1];
        int16_t value = (int16_t)(SPI_BIG_ENDIAN ? first << 8 | second : second << 8 | first);
        /* The lowest number is kept for a reading that failed. */
        axes[axis] = value == INT16_MIN ? INT16_MIN + 1 : value;
    }
    return true;
}
