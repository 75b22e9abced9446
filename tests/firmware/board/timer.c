/* Timer 1 in normal mode, prescaler 64: a flag rises as the count goes past its match. */
#include "board.h"

enum { PRESCALER = 64, TURN = 65536 };

static avr_int_vector_t *match_a, *match_b, *overflow;
static bool on;

static uint16_t pair(avr_io_addr_t low) { return avr->data[low] | avr->data[low + 1] << 8; }

/* Cycles until the count goes from `last` to the next, never 0. */
static avr_cycle_count_t until_past(uint16_t last)
{
    uint64_t turn = (uint64_t)TURN * PRESCALER, target = (last + 1ULL) * PRESCALER % turn;
    uint64_t left = (target + turn - avr->cycle % turn) % turn;
    return left ? left : turn;
}

static avr_cycle_count_t at_a(struct avr_t *a, avr_cycle_count_t when, void *param)
{
    avr_raise_interrupt(a, match_a);
    return when + (avr_cycle_count_t)TURN * PRESCALER;
}

static avr_cycle_count_t at_b(struct avr_t *a, avr_cycle_count_t when, void *param)
{
    /* The converter starts on a rising flag only. */
    if (!(a->data[TIFR1_] & 4)) {
        avr_raise_interrupt(a, match_b);
        converter_trigger(when);
    }
    return when + (avr_cycle_count_t)TURN * PRESCALER;
}

static avr_cycle_count_t at_turn(struct avr_t *a, avr_cycle_count_t when, void *param)
{
    avr_raise_interrupt(a, overflow);
    return when + (avr_cycle_count_t)TURN * PRESCALER;
}

static void write_control(struct avr_t *a, avr_io_addr_t address, uint8_t value, void *param)
{
    a->data[address] = value;
    on = (value & 7) == 3; /* the only prescaler modelled */
    if (on)
        plan(at_turn, until_past(TURN - 1));
}

static void write_match(struct avr_t *a, avr_io_addr_t address, uint8_t value, void *param)
{
    a->data[address] = value;
    if (on)
        plan(address == OCR1AL_ ? at_a : at_b, until_past(pair(address)));
}

static uint8_t read_count(struct avr_t *a, avr_io_addr_t address, void *param)
{
    uint16_t count = on ? (uint16_t)(a->cycle / PRESCALER) : 0;
    a->data[TCNT1H_] = count >> 8;
    return a->data[TCNT1L_] = (uint8_t)count;
}

static void write_flags(struct avr_t *a, avr_io_addr_t address, uint8_t value, void *param)
{
    if (value & 1)
        avr_clear_interrupt(a, overflow);
    if (value & 2)
        avr_clear_interrupt(a, match_a);
    if (value & 4)
        avr_clear_interrupt(a, match_b);
}

void timer_setup(void)
{
    on = false;
    match_a = interrupt(11, TIMSK1_, 1, TIFR1_, 1, false);
    match_b = interrupt(12, TIMSK1_, 2, TIFR1_, 2, false);
    overflow = interrupt(13, TIMSK1_, 0, TIFR1_, 0, false);
    on_write(TCCR1A_, NULL);
    on_write(TCCR1B_, write_control);
    on_write(OCR1AL_, write_match);
    on_write(OCR1BL_, write_match);
    on_write(TIFR1_, write_flags);
    on_read(TCNT1L_, read_count);
}
