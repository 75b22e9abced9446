/* The converter: the input is held 2 ADC clocks after a trigger (1.5 after a start by software), the
 * result is there after 13.5 (13; 25 for the first). */
#include "board.h"

enum { ADEN = 0x80, ADSC = 0x40, ADATE = 0x20, ADIF = 0x10, BANDGAP = 14 };

static avr_int_vector_t *done;
static bool busy, warm;
static uint8_t input;
static uint16_t result;
avr_cycle_count_t converter_done_at;

static avr_cycle_count_t hold(struct avr_t *a, avr_cycle_count_t when, void *param)
{
    double volts = input == BANDGAP ? 1.1 : input < 8 ? wave(input, when / CLOCK_HZ) : 0.0;
    double count = volts * 1024.0 / options.supply_v;
    result = count < 0 ? 0 : count > 1023 ? 1023 : (uint16_t)count;
    trace(input, when / CLOCK_HZ, result);
    return 0;
}

static avr_cycle_count_t finish(struct avr_t *a, avr_cycle_count_t when, void *param)
{
    busy = false;
    converter_done_at = when;
    a->data[ADCL_] = (uint8_t)result;
    a->data[ADCH_] = result >> 8;
    a->data[ADCSRA_] &= ~ADSC;
    avr_raise_interrupt(a, done);
    return 0;
}

/* `late` cycles ago: the emulator looks at its clock after each instruction only. */
static void begin(double hold_clocks, double all_clocks, avr_cycle_count_t late)
{
    int divider = 1 << (avr->data[ADCSRA_] & 7);
    input = avr->data[ADMUX_] & 15;
    busy = true;
    plan(hold, (avr_cycle_count_t)(hold_clocks * divider) - late);
    plan(finish, (avr_cycle_count_t)(all_clocks * divider) - late);
}

void converter_trigger(avr_cycle_count_t when)
{
    uint8_t control = avr->data[ADCSRA_];
    bool by_match_b = (avr->data[ADCSRB_] & 7) == 5;
    if (!(control & ADEN) || !(control & ADATE) || !by_match_b || busy)
        return;
    if (options.wave_start_s < 0)
        options.wave_start_s = when / CLOCK_HZ; /* the drive begins with the sampling */
    begin(2, 13.5, avr->cycle - when);
}

static void write_control(struct avr_t *a, avr_io_addr_t address, uint8_t value, void *param)
{
    if (value & ADIF)
        avr_clear_interrupt(a, done);
    uint8_t flag = a->data[ADCSRA_] & ADIF;
    a->data[ADCSRA_] = (value & ~ADIF & ~(busy ? 0 : ADSC)) | flag | (busy ? ADSC : 0);
    if ((value & ADEN) && (value & ADSC) && !busy) {
        a->data[ADCSRA_] |= ADSC;
        begin(warm ? 1.5 : 13.5, warm ? 13 : 25, 0);
        warm = true;
    }
}

void converter_setup(void)
{
    busy = warm = false;
    done = interrupt(21, ADCSRA_, 3, ADCSRA_, 4, false);
    on_write(ADCSRA_, write_control);
    on_write(ADCSRB_, NULL);
    on_read(ADCL_, NULL);
    on_read(ADCH_, NULL);
}
