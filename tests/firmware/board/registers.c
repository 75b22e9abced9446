#include <stdlib.h>

#include "board.h"

void on_write(avr_io_addr_t address, avr_io_write_t function)
{
    avr->io[AVR_DATA_TO_IO(address)].w.c = function;
    avr->io[AVR_DATA_TO_IO(address)].w.param = NULL;
}

void on_read(avr_io_addr_t address, avr_io_read_t function)
{
    avr->io[AVR_DATA_TO_IO(address)].r.c = function;
    avr->io[AVR_DATA_TO_IO(address)].r.param = NULL;
}

avr_int_vector_t *interrupt(uint8_t number, avr_io_addr_t enable, uint8_t enable_bit,
                            avr_io_addr_t flag, uint8_t flag_bit, bool sticky)
{
    avr_int_vector_t *vector = calloc(1, sizeof *vector);
    vector->vector = number;
    vector->enable = (avr_regbit_t){.reg = enable, .bit = enable_bit, .mask = 1};
    vector->raised = (avr_regbit_t){.reg = flag, .bit = flag_bit, .mask = 1};
    vector->raise_sticky = sticky;
    avr_register_vector(avr, vector);
    return vector;
}

void plan(avr_cycle_timer_t function, avr_cycle_count_t cycles)
{
    avr_cycle_timer_cancel(avr, function, NULL);
    avr_cycle_timer_register(avr, cycles, function, NULL);
}

double now_s(void) { return avr->cycle / CLOCK_HZ; }

bool within(struct span span) { return now_s() >= span.from_s && now_s() < span.to_s; }
