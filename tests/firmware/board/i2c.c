/* I2C master with one part at address 19 hex: nine bits a byte, status codes of the data sheet. */
#include "board.h"

enum { TWINT = 0x80, TWEA = 0x40, TWSTA = 0x20, TWSTO = 0x10, TWEN = 0x04, ADDRESS = 0x19 };
enum { IDLE, STARTED, WRITING, READING, IGNORED };

static avr_int_vector_t *done;
static int state;
static bool register_named;
static uint8_t next_status;

static int bit_cycles(void)
{
    return 16 + 2 * avr->data[TWBR_] * (1 << 2 * (avr->data[TWSR_] & 3));
}

static avr_cycle_count_t finish(struct avr_t *a, avr_cycle_count_t when, void *param)
{
    a->data[TWSR_] = (a->data[TWSR_] & 7) | next_status;
    avr_raise_interrupt(a, done);
    return 0;
}

static void after(int bits, uint8_t status)
{
    next_status = status;
    if (!within(options.i2c_stuck))
        plan(finish, bits * bit_cycles());
}

static void address_byte(uint8_t byte)
{
    bool there = byte >> 1 == ADDRESS && !within(options.i2c_absent), read = byte & 1;
    state = !there ? IGNORED : read ? READING : WRITING;
    register_named = false;
    after(9, read ? (there ? 0x40 : 0x48) : (there ? 0x18 : 0x20));
}

static void data_byte(uint8_t byte)
{
    if (!register_named) {
        i2c_part.pointer = byte & 0x7F;
        i2c_part.increment = byte & 0x80;
        register_named = true;
    } else {
        part_write(&i2c_part, byte);
    }
    after(9, 0x28);
}

static void write_control(struct avr_t *a, avr_io_addr_t address, uint8_t value, void *param)
{
    uint8_t flag = a->data[TWCR_] & TWINT;
    a->data[TWCR_] = (value & 0x7F & ~TWSTO) | flag;
    if (!(value & TWEN)) {
        state = IDLE;
        avr_cycle_timer_cancel(a, finish, NULL);
        avr_clear_interrupt(a, done);
        a->data[TWCR_] &= ~TWINT;
        return;
    }
    if (!(value & TWINT))
        return;
    avr_clear_interrupt(a, done);
    a->data[TWCR_] &= ~TWINT;
    if (value & TWSTO) {
        state = IDLE;
        a->data[TWSR_] = (a->data[TWSR_] & 7) | 0xF8;
    } else if (value & TWSTA) {
        after(1, state == IDLE ? 0x08 : 0x10);
        state = STARTED;
    } else if (state == STARTED) {
        address_byte(a->data[TWDR_]);
    } else if (state == WRITING) {
        data_byte(a->data[TWDR_]);
    } else if (state == READING) {
        a->data[TWDR_] = part_read(&i2c_part);
        after(9, value & TWEA ? 0x50 : 0x58);
    } else {
        after(9, 0x30);
    }
}

static void write_status(struct avr_t *a, avr_io_addr_t address, uint8_t value, void *param)
{
    a->data[TWSR_] = (a->data[TWSR_] & 0xF8) | (value & 3);
}

void i2c_setup(void)
{
    state = IDLE;
    done = interrupt(24, TWCR_, 0, TWCR_, 7, true);
    on_write(TWCR_, write_control);
    on_write(TWSR_, write_status);
    on_write(TWDR_, NULL);
    on_read(TWDR_, NULL);
    avr->data[TWSR_] = 0xF8;
}
