/* Register maps of the two digital accelerometers. The values fit many common parts with 16-bit little
 * endian outputs for X, Y, Z in six registers one after the other; compare each with your data sheet.
 * Choose the lowest output rate at or above twice the sample rate and the same low pass everywhere. */
#ifndef PARTS_H
#define PARTS_H

/* SPI, mode 3, at 1 MHz. Select line: PB2. */
#define SPI_ID_REGISTER 0x0F
#define SPI_ID_VALUE 0x33
#define SPI_DATA_REGISTER 0x28
#define SPI_READ 0x80        /* set in the register's number for a read */
#define SPI_MANY 0x40        /* set for several registers in one go */
#define SPI_BIG_ENDIAN 0     /* 1: high byte first */
#define SPI_PART_DELAY_US 900 /* the part's low pass, and half an interval of its output rate */
/* register, value: 1600 readings a second, all axes on; +-8 g, whole words at a time */
#define SPI_SETUP {{0x20, 0xA7}, {0x23, 0xA8}}

/* I2C at 400 kHz. */
#define I2C_ADDRESS 0x19
#define I2C_ID_REGISTER 0x0F
#define I2C_ID_VALUE 0x33
#define I2C_DATA_REGISTER 0xA8 /* many parts set the top bit for several registers in one go */
#define I2C_BIG_ENDIAN 0
#define I2C_PART_DELAY_US 900
#define I2C_SETUP {{0x20, 0xA7}, {0x23, 0xA8}}

#endif
