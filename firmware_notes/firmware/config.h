/* What a builder may want to change. The channels stand in channel_table.h, the two digital
 * accelerometers in parts.h. Every value here can also be given to make: make OPTIONS=-DBAUD=115200 */
#ifndef CONFIG_H
#define CONFIG_H

/* At most 32 characters; shown when the logger is recognised. */
#ifndef LOGGER_NAME
#define LOGGER_NAME "reference logger"
#endif

/* Tells your loggers apart; 0 = no number. */
#ifndef DEVICE_NUMBER
#define DEVICE_NUMBER 0
#endif

/* 250000, 500000 and 1000000 are exact with 16 MHz; 115200 is 2.1 % fast, which most adapters take. */
#ifndef BAUD
#define BAUD 500000
#endif

/* Samples per second after boot, until the host sets another rate. */
#ifndef DEFAULT_RATE_HZ
#define DEFAULT_RATE_HZ 500
#endif

/* 128: ADC clock of 125 kHz, full accuracy, 144 us a channel. 64: 250 kHz, 96 us, a little less exact. */
#ifndef ADC_DIVIDER
#define ADC_DIVIDER 128
#endif

/* The chip's own reference, nominally 1.1 V, differs by up to 10 % from chip to chip: measure it at
 * AREF once, or compare the supply voltage reported with a meter, and correct it here. */
#ifndef BANDGAP_MV
#define BANDGAP_MV 1100
#endif

/* Samples kept while the line is busy. 20 of 10 channels are 600 bytes of the 2048. */
#ifndef SAMPLE_SLOTS
#define SAMPLE_SLOTS 20
#endif

#endif
