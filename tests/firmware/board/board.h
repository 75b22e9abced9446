/* The board around an emulated ATmega328P: what the packaged emulator leaves out or does differently is
 * replaced here by models that keep the data sheet's timing. For tests only; nothing of it is shipped. */
#ifndef BOARD_H
#define BOARD_H

#include <simavr/sim_avr.h>
#include <simavr/sim_interrupts.h>
#include <simavr/sim_io.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#define CLOCK_HZ 16000000.0

/* Registers of the ATmega328P, as addresses in data space. */
enum {
    PINC_ = 0x26, PIND_ = 0x29, TIFR1_ = 0x36, SPCR_ = 0x4C, SPSR_ = 0x4D, SPDR_ = 0x4E,
    TIMSK1_ = 0x6F, ADCL_ = 0x78, ADCH_ = 0x79, ADCSRA_ = 0x7A, ADCSRB_ = 0x7B, ADMUX_ = 0x7C,
    TCCR1A_ = 0x80, TCCR1B_ = 0x81, TCNT1L_ = 0x84, TCNT1H_ = 0x85, OCR1AL_ = 0x88, OCR1AH_ = 0x89,
    OCR1BL_ = 0x8A, OCR1BH_ = 0x8B, TWBR_ = 0xB8, TWSR_ = 0xB9, TWDR_ = 0xBB, TWCR_ = 0xBC,
    UCSR0A_ = 0xC0, UCSR0B_ = 0xC1, UBRR0L_ = 0xC4, UBRR0H_ = 0xC5, UDR0_ = 0xC6,
};

/* Columns of the waveforms: volts at pins 0 to 7, then g on three axes of each part. */
enum { WAVE_SPI = 8, WAVE_I2C = 11, WAVES = 14 };

struct span { double from_s, to_s; };

struct options {
    const char *firmware, *waves, *trace, *eeprom, *out;
    double seconds, wave_rate_hz, wave_start_s /* below 0: with the first scan */, pace, supply_v, reset_s, button_s;
    struct span spi_absent, i2c_absent, i2c_stuck;
    bool pty;
};

extern struct options options;
extern avr_t *avr;

double now_s(void);
bool within(struct span span);

/* Registers: put a model's function in place of the packaged one. */
void on_write(avr_io_addr_t address, avr_io_write_t function);
void on_read(avr_io_addr_t address, avr_io_read_t function);
avr_int_vector_t *interrupt(uint8_t number, avr_io_addr_t enable, uint8_t enable_bit,
                            avr_io_addr_t flag, uint8_t flag_bit, bool sticky);
/* Run `function` so many cycles from now, instead of what it had been planned for. */
void plan(avr_cycle_timer_t function, avr_cycle_count_t cycles);

void waves_load(void);
double wave(int column, double time_s);
void trace_open(void);
void trace(int what, double time_s, int value); /* a reading was taken of this instant */

void timer_setup(void);
void converter_setup(void);
extern avr_cycle_count_t converter_done_at;
void converter_trigger(avr_cycle_count_t when); /* the timer's match B */
void spi_setup(void);
void i2c_setup(void);
void serial_setup(void);
void serial_script(double at_s, const char *hex);
void serial_poll(void);
void serial_flush(void);
extern long serial_overruns, spi_collisions;

/* The accelerometers: register maps. */
struct part {
    int first_column;
    double rate_hz, phase_s;
    uint8_t registers[128];
    uint8_t pointer;
    bool increment;
};
extern struct part spi_part, i2c_part;
uint8_t part_read(struct part *part);
void part_write(struct part *part, uint8_t value);

#endif
