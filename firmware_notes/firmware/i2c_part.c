#include "i2c_part.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/pgmspace.h>
#include <util/delay.h>
#include <util/twi.h>

#include "parts.h"

enum { DATA_LINE = PC4, CLOCK_LINE = PC5 };
enum { GO = _BV(TWINT) | _BV(TWEN), WRITE_TO = I2C_ADDRESS << 1, READ_FROM = WRITE_TO | 1 };

static const uint8_t setup[][2] PROGMEM = I2C_SETUP;

static volatile bool present; /* while false the scan leaves the bus alone */
static bool started;
static volatile bool done;
static uint8_t count;
static uint8_t *into;

/* One step of the bus, waited for: 40 us at most, or twice that and it has failed. */
static bool step(uint8_t control, uint8_t expected)
{
    TWCR = control | GO;
    for (uint8_t tries = 0; tries < 100; tries++) {
        if (TWCR & _BV(TWINT))
            return TW_STATUS == expected;
        _delay_us(1);
    }
    return false;
}

static bool send(uint8_t byte, uint8_t expected)
{
    TWDR = byte;
    return step(0, expected);
}

static void stop(void)
{
    TWCR = GO | _BV(TWSTO);
    _delay_us(10);
}

static bool write_register(uint8_t number, uint8_t value)
{
    bool good = step(_BV(TWSTA), TW_START) && send(WRITE_TO, TW_MT_SLA_ACK) &&
                send(number, TW_MT_DATA_ACK) && send(value, TW_MT_DATA_ACK);
    stop();
    return good;
}

static bool identify(void)
{
    bool good = step(_BV(TWSTA), TW_START) && send(WRITE_TO, TW_MT_SLA_ACK) &&
                send(I2C_ID_REGISTER, TW_MT_DATA_ACK) && step(_BV(TWSTA), TW_REP_START) &&
                send(READ_FROM, TW_MR_SLA_ACK) && step(0, TW_MR_DATA_NACK) &&
                TWDR == I2C_ID_VALUE;
    stop();
    return good;
}

/* A part that was cut off in the middle of a byte holds the data line: clock it to the byte's end. */
static void free_the_bus(void)
{
    TWCR = 0;
    for (uint8_t bit = 0; bit < 9 && !(PINC & _BV(DATA_LINE)); bit++) {
        PORTC &= (uint8_t)~_BV(CLOCK_LINE);
        DDRC |= _BV(CLOCK_LINE);
        _delay_us(5);
        DDRC &= (uint8_t)~_BV(CLOCK_LINE);
        PORTC |= _BV(CLOCK_LINE);
        _delay_us(5);
    }
    TWCR = _BV(TWEN);
}

void i2c_part_setup(void)
{
    /* The pull-ups inside are weak: 2.2 to 4.7 kohm outside are needed all the same. */
    PORTC |= _BV(DATA_LINE) | _BV(CLOCK_LINE);
    TWSR = 0;
    TWBR = (F_CPU / 400000 - 16) / 2;
    i2c_part_mend();
}

void i2c_part_mend(void)
{
    if (present)
        return;
    free_the_bus();
    bool good = identify();
    for (uint8_t i = 0; good && i < sizeof setup / sizeof setup[0]; i++)
        good = write_register(pgm_read_byte(&setup[i][0]), pgm_read_byte(&setup[i][1]));
    present = good;
}

void i2c_part_begin(uint8_t *bytes)
{
    into = bytes;
    done = false;
    started = present;
    if (started)
        TWCR = GO | _BV(TWIE) | _BV(TWSTA);
}

ISR(TWI_vect)
{
    uint8_t control = GO | _BV(TWIE);
    switch (TW_STATUS) {
    case TW_START:
        TWDR = WRITE_TO;
        break;
    case TW_MT_SLA_ACK:
        TWDR = I2C_DATA_REGISTER;
        break;
    case TW_MT_DATA_ACK:
        control |= _BV(TWSTA);
        break;
    case TW_REP_START:
        TWDR = READ_FROM;
        break;
    case TW_MR_SLA_ACK:
        count = 0;
        control |= _BV(TWEA);
        break;
    case TW_MR_DATA_ACK:
        into[count++] = TWDR;
        if (count < I2C_BYTES - 1)
            control |= _BV(TWEA);
        break;
    case TW_MR_DATA_NACK:
        into[count] = TWDR;
        done = true;
        control = GO | _BV(TWSTO);
        break;
    default: /* no answer */
        control = GO | _BV(TWSTO);
    }
    TWCR = control;
}

bool i2c_part_end(void)
{
    if (started && !done) {
        /* Switched off, the bus lets go of both lines; the part is looked for again later. */
        TWCR = 0;
        present = false;
    }
    return done;
}

void i2c_part_axes(const uint8_t *bytes, int16_t axes[3])
{
    for (uint8_t axis = 0; axis < 3; axis++) {
        uint8_t first = bytes[2 * axis], second = bytes[2 * axis + 1];
        int16_t value = (int16_t)(I2C_BIG_ENDIAN ? first << 8 | second : second << 8 | first);
        /* The lowest number is kept for a reading that failed. */
        axes[axis] = value == INT16_MIN ? INT16_MIN + 1 : value;
    }
}
