#include "scan.h"

#include <avr/interrupt.h>
#include <avr/io.h>
#include <avr/pgmspace.h>
#include <stddef.h>
#include <util/atomic.h>

#include "rest.h"

_Static_assert(ADC_DIVIDER == 128 || ADC_DIVIDER == 64, "ADC_DIVIDER is 128 or 64");

#define ANALOG(pin, ...) +((pin) == 4 || (pin) == 5)
#define SPI_AXIS(...) +0
#define I2C_AXIS(...) +0
enum { ON_THE_BUS = 0
#include "channel_table.h"
};
#undef ANALOG
#undef SPI_AXIS
#undef I2C_AXIS
_Static_assert(!(I2C_COUNT && ON_THE_BUS), "pins 4 and 5 are the I2C bus");

enum {
    BANDGAP = 14,
    RING = SAMPLE_SLOTS + 1, /* the one being filled is never handed out */
    SETTLE_TICKS = 150,      /* 0.6 ms for the weak reference to charge the input */
    ADC_ON = _BV(ADEN) | _BV(ADPS2) | _BV(ADPS1) | (ADC_DIVIDER == 128 ? _BV(ADPS0) : 0),
};
_Static_assert(RING <= 255, "at most 254 sample slots");

static struct sample ring[RING];
static volatile uint8_t head, tail;
static struct counts counts;

static volatile bool running;
static volatile bool scanning; /* a sample is under way */
static bool armed;             /* the timer will start the next one */
static bool measuring;         /* the conversion armed is that of the supply voltage */
static volatile bool supply_wanted;
static volatile uint16_t supply_reading;

static uint32_t next_instant;
static uint16_t interval;
static uint8_t slot;
static uint8_t pins[SCAN_SLOTS]; /* by slot; without an analog channel: the reference */

static void select(uint8_t pin) { ADMUX = _BV(REFS0) | pin; }

/* Let the timer start a conversion. False: it is too late for that. */
static bool trigger_at(uint16_t ticks)
{
    OCR1B = ticks;
    TIFR1 = _BV(OCF1B); /* only a flag that rises starts a conversion */
    return (int16_t)(ticks - TCNT1) > 0;
}

static void arm(void)
{
    uint16_t start = OCR1A;
    measuring = supply_wanted && (int16_t)(start - TCNT1) > SLOT_TICKS + SETTLE_TICKS;
    select(measuring ? BANDGAP : pins[0]);
    armed = trigger_at(measuring ? start - SLOT_TICKS : start);
}

/* The instant of a sample. Its first conversion is running already. */
ISR(TIMER1_COMPA_vect)
{
    uint32_t instant = next_instant;
    next_instant += interval;
    OCR1A = (uint16_t)next_instant;
    counts.due++;
    if (!armed) {
        counts.missed += scanning ? 2 : 1; /* one that is not done by now never will be */
        scanning = false;
        arm();
        return;
    }
    armed = false;
    scanning = true;
    slot = 0;
    struct sample *sample = &ring[head];
    if (SPI_COUNT)
        spi_part_begin(sample->spi);
    if (I2C_COUNT)
        i2c_part_begin(sample->i2c);
    sample->ticks = instant;
    sample->sequence = (uint16_t)(counts.due - 1);
    sample->missed = (uint16_t)counts.missed;
    sample->dropped = (uint16_t)counts.dropped;
}

static void finish(void)
{
    if (SPI_COUNT)
        ring[head].spi_good = spi_part_end();
    if (I2C_COUNT)
        ring[head].i2c_good = i2c_part_end();
    scanning = false;
    WORK();
    uint8_t next = (uint8_t)(head + 1) == RING ? 0 : (uint8_t)(head + 1);
    if (next == tail)
        counts.dropped++;
    else
        head = next;
    if (running)
        arm();
    else
        ADCSRA = ADC_ON;
}

ISR(ADC_vect)
{
    uint16_t reading = ADC;
    if (armed && measuring) {
        supply_reading = reading;
        supply_wanted = measuring = false;
        select(pins[0]);
        armed = trigger_at(OCR1A);
        return;
    }
    if (!scanning)
        return;
    if (slot < ANALOG_COUNT)
        ring[head].analog[slot] = reading;
    if (++slot == SCAN_SLOTS) {
        finish();
        return;
    }
    select(pins[slot]);
    if (trigger_at(OCR1B + SLOT_TICKS))
        return;
    /* Kept waiting past the next conversion: a sample at the wrong times is none. */
    scanning = false;
    counts.missed++;
    if (running)
        arm();
}

void scan_setup(void)
{
    uint8_t analog = 0;
    for (uint8_t i = 0; i < SCAN_SLOTS; i++)
        pins[i] = BANDGAP;
    for (uint8_t i = 0; i < CHANNEL_COUNT; i++) {
        if (pgm_read_byte(&channel_table[i].source) != SOURCE_ANALOG)
            continue;
        pins[analog] = pgm_read_byte(&channel_table[i].place);
        if (pins[analog] < 6)
            DIDR0 |= _BV(pins[analog]);
        analog++;
    }
    select(BANDGAP);
    ADCSRB = _BV(ADTS2) | _BV(ADTS0); /* started by compare match B of timer 1 */
    ADCSRA = ADC_ON | _BV(ADSC);      /* the first conversion is a long one: get it over with */
    if (SPI_COUNT)
        spi_part_setup();
    if (I2C_COUNT)
        i2c_part_setup();
}

void scan_start(uint16_t interval_ticks)
{
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        interval = interval_ticks;
        next_instant = clock_ticks() + SETTLE_TICKS;
        OCR1A = (uint16_t)next_instant;
        TIFR1 = _BV(OCF1A);
        TIMSK1 |= _BV(OCIE1A);
        ADCSRA = ADC_ON | _BV(ADATE) | _BV(ADIE) | _BV(ADIF);
        running = true;
        arm();
    }
}

void scan_stop(void)
{
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        TIMSK1 &= (uint8_t)~_BV(OCIE1A);
        running = armed = false;
        if (!scanning) {
            ADCSRA = ADC_ON;
            select(BANDGAP);
        }
    }
}

bool scan_running(void) { return running; }

bool scan_stopped(void) { return !running && !scanning && head == tail; }

const struct sample *scan_oldest(void) { return head == tail ? NULL : &ring[tail]; }

void scan_discard_oldest(void)
{
    tail = (uint8_t)(tail + 1) == RING ? 0 : (uint8_t)(tail + 1);
}

bool scan_counts(struct counts *out)
{
    bool still;
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE)
    {
        still = !scanning && head == tail;
        *out = counts;
    }
    return still;
}

void scan_measure_supply(void)
{
    if (running) {
        supply_wanted = true;
        return;
    }
    if (scanning)
        return;
    select(BANDGAP);
    ADCSRA = ADC_ON | _BV(ADSC);
    while (ADCSRA & _BV(ADSC))
        ;
    supply_reading = ADC;
}

uint16_t scan_supply_mv(void)
{
    uint16_t reading;
    ATOMIC_BLOCK(ATOMIC_RESTORESTATE) { reading = supply_reading; }
    return reading ? (uint16_t)(BANDGAP_MV * 1024UL / reading) : 0;
}
