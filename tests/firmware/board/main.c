/* Runs a firmware: board FIRMWARE [--pty | --out FILE] [options]; prints a summary at the end. */
#include <getopt.h>
#include <signal.h>
#include <simavr/avr_eeprom.h>
#include <simavr/avr_extint.h>
#include <simavr/avr_ioport.h>
#include <simavr/sim_elf.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "board.h"

struct options options = {.seconds = 1e9, .wave_rate_hz = 4000, .supply_v = 5.0, .reset_s = -1,
                          .button_s = -1};
avr_t *avr;

static volatile sig_atomic_t over;
static avr_cycle_count_t awake;
static long interrupts;

static void quit(int signal) { over = 1; }

static void silent(struct avr_t *a, const int level, const char *format, va_list arguments) {}

static void sleep_on(avr_t *a, avr_cycle_count_t cycles) {} /* never in real time */

static avr_cycle_count_t entered, longest, longest_wait;
static uint32_t longest_vector, inside;

/* The data sheet's response time of an interrupt: four cycles, which the emulator leaves out. */
static void enter_or_leave(struct avr_irq_t *irq, uint32_t vector, void *param)
{
    if (vector) {
        entered = avr->cycle;
        inside = vector;
        if (vector == 21 && avr->cycle - converter_done_at > longest_wait)
            longest_wait = avr->cycle - converter_done_at;
        avr->cycle += 4;
        interrupts++;
    } else if (avr->cycle - entered > longest) {
        longest = avr->cycle - entered;
        longest_vector = inside;
    }
}

/* Pins that something outside holds: the button, and both lines of the I2C bus, pulled up. */
static uint8_t read_pin_d(struct avr_t *a, avr_io_addr_t address, void *param)
{
    bool pressed = options.button_s >= 0 && now_s() >= options.button_s &&
                   now_s() < options.button_s + 0.1;
    return a->data[PIND_] = pressed ? 0xFB : 0xFF;
}

static uint8_t read_pin_c(struct avr_t *a, avr_io_addr_t address, void *param)
{
    return a->data[PINC_] = 0xFF;
}

static avr_cycle_count_t every_millisecond(struct avr_t *a, avr_cycle_count_t when, void *param)
{
    static struct timespec start;
    serial_poll();
    if (options.pace > 0) {
        if (!start.tv_sec)
            clock_gettime(CLOCK_MONOTONIC, &start);
        double due = now_s() / options.pace + start.tv_sec + start.tv_nsec * 1e-9;
        struct timespec until = {(time_t)due, (long)((due - (time_t)due) * 1e9)};
        clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &until, NULL);
    }
    return when + 16000;
}

static void put_models_in_place(void)
{
    timer_setup();
    converter_setup();
    spi_setup();
    i2c_setup();
    serial_setup();
    for (uint8_t line = 0; line < 2; line++) /* else a low pin is looked at in every cycle */
        avr_extint_set_strict_lvl_trig(avr, line, 0);
    on_read(PIND_, read_pin_d);
    on_read(PINC_, read_pin_c);
    avr_cycle_timer_register(avr, 16000, every_millisecond, NULL);
}

static struct span span(const char *text)
{
    struct span result = {0, 0};
    sscanf(text, "%lf:%lf", &result.from_s, &result.to_s);
    return result;
}

static void read_options(int count, char **words)
{
    static const struct option names[] = {
        {"pty", 0, 0, 'p'}, {"out", 1, 0, 'o'}, {"seconds", 1, 0, 's'}, {"waves", 1, 0, 'w'},
        {"wave-rate", 1, 0, 'r'}, {"wave-start", 1, 0, 'b'}, {"trace", 1, 0, 't'},
        {"eeprom", 1, 0, 'e'}, {"send", 1, 0, 'x'}, {"pace", 1, 0, 'c'}, {"supply", 1, 0, 'v'},
        {"reset", 1, 0, 'z'}, {"spi-absent", 1, 0, 1}, {"i2c-absent", 1, 0, 2},
        {"i2c-stuck", 1, 0, 3}, {"button", 1, 0, 4}, {0}};
    for (int key; (key = getopt_long(count, words, "", names, NULL)) != -1;) {
        switch (key) {
        case 'p': options.pty = true; break;
        case 'o': options.out = optarg; break;
        case 's': options.seconds = atof(optarg); break;
        case 'w': options.waves = optarg; break;
        case 'r': options.wave_rate_hz = atof(optarg); break;
        case 'b': options.wave_start_s = atof(optarg); break;
        case 't': options.trace = optarg; break;
        case 'e': options.eeprom = optarg; break;
        case 'x': serial_script(atof(optarg), strchr(optarg, ':') + 1); break;
        case 'c': options.pace = atof(optarg); break;
        case 'v': options.supply_v = atof(optarg); break;
        case 'z': options.reset_s = atof(optarg); break;
        case 1: options.spi_absent = span(optarg); break;
        case 2: options.i2c_absent = span(optarg); break;
        case 3: options.i2c_stuck = span(optarg); break;
        case 4: options.button_s = atof(optarg); break;
        default: exit(2);
        }
    }
    options.firmware = words[optind];
    if (!options.firmware || (!options.pty && !options.out)) {
        fprintf(stderr, "usage: board FIRMWARE (--pty | --out FILE) [options]\n");
        exit(2);
    }
}

static void eeprom(bool save)
{
    static uint8_t cells[1024];
    avr_eeprom_desc_t all = {.ee = cells, .offset = 0, .size = sizeof cells};
    memset(cells, 0xFF, sizeof cells);
    FILE *file = options.eeprom ? fopen(options.eeprom, save ? "wb" : "rb") : NULL;
    if (save)
        avr_ioctl(avr, AVR_IOCTL_EEPROM_GET, &all);
    if (file && save)
        fwrite(cells, 1, sizeof cells, file);
    else if (file && fread(cells, 1, sizeof cells, file) != sizeof cells)
        exit(1);
    if (!save)
        avr_ioctl(avr, AVR_IOCTL_EEPROM_SET, &all);
    if (file)
        fclose(file);
}

enum { PAINT = 0xC5, RAM = 0x100, RAM_END = 0x900 };

/* Bytes of RAM between the variables and the lowest the stack ever came. */
static int stack_margin(int variables)
{
    int free_bytes = 0;
    while (RAM + variables + free_bytes < RAM_END &&
           avr->data[RAM + variables + free_bytes] == PAINT)
        free_bytes++;
    return free_bytes;
}

int main(int count, char **words)
{
    elf_firmware_t firmware = {{0}};
    read_options(count, words);
    avr_global_logger_set(silent);
    signal(SIGTERM, quit);
    signal(SIGINT, quit);
    if (elf_read_firmware(options.firmware, &firmware))
        return 1;
    avr = avr_make_mcu_by_name("atmega328p");
    avr_init(avr);
    avr->frequency = (uint32_t)CLOCK_HZ;
    avr->run_cycle_limit = 16000; /* go on to the next event in one go; as made it is one cycle */
    avr_load_firmware(avr, &firmware);
    avr->sleep = sleep_on;
    avr_irq_register_notify(avr_get_interrupt_irq(avr, AVR_INT_ANY) + AVR_INT_IRQ_RUNNING,
                            enter_or_leave, NULL);
    eeprom(false);
    waves_load();
    trace_open();
    memset(avr->data + RAM, PAINT, RAM_END - RAM);
    put_models_in_place();
    int state = cpu_Running, resets = 0;
    while (!over && now_s() < options.seconds && state != cpu_Done && state != cpu_Crashed) {
        avr_cycle_count_t before = avr->cycle;
        bool running = avr->state == cpu_Running;
        state = avr_run(avr);
        if (running && state == cpu_Running)
            awake += avr->cycle - before;
        if (options.reset_s >= 0 && now_s() >= options.reset_s) {
            options.reset_s = -1;
            resets++;
            avr_reset(avr);
            put_models_in_place();
        }
    }
    serial_flush();
    eeprom(true);
    printf("{\"seconds\": %.6f, \"state\": %d, \"awake\": %.6f, \"interrupts\": %ld, "
           "\"stack_margin\": %d, \"overruns\": %ld, \"collisions\": %ld, \"resets\": %d, "
           "\"longest_interrupt_us\": %.2f, \"longest_vector\": %u, \"longest_wait_us\": %.2f}\n",
           now_s(), state, (double)awake / avr->cycle, interrupts,
           stack_margin((int)(firmware.datasize + firmware.bsssize)), serial_overruns,
           spi_collisions, resets, longest / 16.0, longest_vector, longest_wait / 16.0);
    return state == cpu_Crashed;
}
