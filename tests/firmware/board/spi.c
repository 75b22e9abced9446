/* SPI master with one part on PB2: a byte takes eight periods of its clock. */
#include <simavr/avr_ioport.h>

#include "board.h"

enum { SPE = 0x40, MSTR = 0x10, SPIF = 0x80 };

static avr_int_vector_t *done;
static bool busy, selected, addressed, reading, flag_seen;
static uint8_t received;
long spi_collisions;

static uint8_t answer(uint8_t byte)
{
    if (!selected || within(options.spi_absent))
        return 0xFF; /* the pull-up */
    if (!addressed) {
        addressed = true;
        reading = byte & 0x80;
        spi_part.increment = byte & 0x40;
        spi_part.pointer = byte & 0x3F;
        return 0;
    }
    if (reading)
        return part_read(&spi_part);
    part_write(&spi_part, byte);
    return 0;
}

static avr_cycle_count_t finish(struct avr_t *a, avr_cycle_count_t when, void *param)
{
    busy = false;
    flag_seen = false;
    a->data[SPSR_] |= SPIF;
    avr_raise_interrupt(a, done);
    return 0;
}

static void clear_if_seen(void)
{
    if (flag_seen)
        avr_clear_interrupt(avr, done);
    flag_seen = false;
}

static void write_data(struct avr_t *a, avr_io_addr_t address, uint8_t value, void *param)
{
    static const int divider[8] = {4, 16, 64, 128, 2, 8, 32, 64};
    uint8_t control = a->data[SPCR_];
    clear_if_seen();
    if (!(control & SPE) || !(control & MSTR))
        return;
    if (busy) {
        spi_collisions++;
        return;
    }
    busy = true;
    received = answer(value);
    plan(finish, 8 * divider[(control & 3) | (a->data[SPSR_] & 1) << 2]);
}

static uint8_t read_data(struct avr_t *a, avr_io_addr_t address, void *param)
{
    clear_if_seen();
    return a->data[SPDR_] = received;
}

static uint8_t read_status(struct avr_t *a, avr_io_addr_t address, void *param)
{
    flag_seen = a->data[SPSR_] & SPIF;
    return a->data[SPSR_];
}

static void select(struct avr_irq_t *irq, uint32_t high, void *param)
{
    selected = !high;
    addressed = false;
}

void spi_setup(void)
{
    busy = false;
    done = interrupt(17, SPCR_, 7, SPSR_, 7, false);
    on_write(SPDR_, write_data);
    on_read(SPDR_, read_data);
    on_read(SPSR_, read_status);
    avr_irq_register_notify(avr_io_getirq(avr, AVR_IOCTL_IOPORT_GETIRQ('B'), 2), select, NULL);
}
