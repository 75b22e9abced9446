/* Reference logger for an ATmega328P at 16 MHz: see README.md. */
#include <avr/interrupt.h>
#include <avr/wdt.h>

#include "button.h"
#include "command.h"
#include "frame.h"
#include "i2c_part.h"
#include "rate.h"
#include "report.h"
#include "rest.h"
#include "run_number.h"
#include "serial.h"
#include "spi_part.h"

/* What is still to be said. */
static bool owe_status, owe_logger, owe_mark, owe_button;
static uint8_t owed_channels, next_channel; /* asked again half way, it goes once more round */

static bool wanted;      /* sampling is to run */
static uint16_t interval = DEFAULT_INTERVAL;
static uint16_t new_interval; /* 0: no change of rate is waiting */
static uint32_t mark_ticks, mark_number, button_ticks, button_count;
static uint8_t refused;

/* After a watchdog reset the watchdog still runs, and is short. */
void watchdog_off(void) __attribute__((naked, used, section(".init3")));
void watchdog_off(void)
{
    MCUSR = 0;
    wdt_disable();
}

static void set_rate(uint32_t rate_mhz)
{
    uint32_t asked = rate_mhz ? (TICKS_PER_SECOND * 1000 + rate_mhz / 2) / rate_mhz : 0;
    if (asked < SHORTEST_INTERVAL || asked > LONGEST_INTERVAL) {
        command_refuse(&refused);
        owe_logger = true;
        return;
    }
    /* Samples at the old rate go out first, then the new rate is told, then it begins. */
    new_interval = (uint16_t)asked;
    scan_stop();
}

static void obey(const struct command *command)
{
    owe_status = true;
    switch (command->code) {
    case DESCRIBE:
        owe_logger = true;
        owed_channels = CHANNEL_COUNT;
        break;
    case START:
        wanted = true;
        break;
    case STOP:
        wanted = false;
        scan_stop();
        break;
    case SET_RATE:
        set_rate(command->argument);
        break;
    case MARK:
        owe_mark = true;
        mark_number = command->argument;
        mark_ticks = clock_ticks();
        break;
    default:
        command_refuse(&refused);
    }
}

/* Start or change the rate as soon as everything taken before has gone to the line. */
static void settle(void)
{
    if (!scan_stopped())
        return;
    if (new_interval) {
        interval = new_interval;
        new_interval = 0;
        owe_logger = true;
    }
    if (wanted && !owe_logger) {
        scan_start(interval);
        owe_status = true;
    }
}

static bool paid(bool sent, bool *owed)
{
    if (sent)
        *owed = false;
    return sent;
}

/* Send the next frame that is owed. False: there is no room for it yet, and samples let it go first, so
 * that a full line cannot keep a description back for ever. */
static bool pay(void)
{
    if (owe_logger && !new_interval)
        return paid(report_logger(interval), &owe_logger);
    if (owed_channels) {
        if (!report_channel(next_channel))
            return false;
        next_channel = next_channel + 1 == CHANNEL_COUNT ? 0 : next_channel + 1;
        owed_channels--;
        return true;
    }
    if (owe_mark)
        return paid(report_mark(true, mark_ticks, mark_number), &owe_mark);
    if (owe_button)
        return paid(report_mark(false, button_ticks, button_count), &owe_button);
    /* A status waits until sampling is as it says. */
    bool settled = wanted ? scan_running() : scan_stopped();
    if (owe_status && settled && !new_interval)
        return paid(report_status(wanted, refused), &owe_status);
    return true;
}

static bool owing(void)
{
    return owe_logger || owed_channels || owe_mark || owe_button || owe_status;
}

static void every_second(void)
{
    static uint32_t last;
    uint32_t now = clock_ticks();
    if (now - last < TICKS_PER_SECOND)
        return;
    last += TICKS_PER_SECOND;
    scan_measure_supply();
    if (SPI_COUNT)
        spi_part_mend();
    if (I2C_COUNT)
        i2c_part_mend();
    owe_status = true;
}

static void watch_button(void)
{
    if (!button_pressed())
        return;
    button_count++;
    button_ticks = clock_ticks();
    owe_button = true;
}

int main(void)
{
    frame_run = run_number_next();
    serial_start();
    clock_start();
    rest_setup();
    button_setup();
    sei();
    scan_setup();
    scan_measure_supply();
    /* Ends whatever was on the line before; then the logger introduces itself. */
    serial_place(0, 0);
    serial_send(1);
    owe_logger = owe_status = true;
    owed_channels = CHANNEL_COUNT;
    wdt_enable(WDTO_250MS);
    for (;;) {
        struct command command;
        const struct sample *sample;
        wdt_reset();
        if (command_receive(&command, &refused)) {
            obey(&command);
            WORK(); /* there may be another */
        }
        watch_button();
        every_second();
        settle();
        if (pay()) {
            while ((sample = scan_oldest()) && report_sample(sample))
                scan_discard_oldest();
            if (owing())
                WORK();
        }
        lamp(scan_running());
        rest();
    }
}
