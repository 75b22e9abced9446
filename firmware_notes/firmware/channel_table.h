/* One line per channel, in the order of the sample frame. Analog channels are converted in this order.
 *
 * ANALOG(pin, measure, corner, scale, offset, low, high, delay_us, unit, name)
 * SPI_AXIS(axis, ...) and I2C_AXIS(axis, ...) likewise, with X, Y or Z.
 *
 *   value     = offset + scale x reading: a sensor the other way round gets a negative scale
 *   low, high = readings at which the sensor is at its limit
 *   delay_us  = group delay of the low pass before the pin; parts.h adds a digital part's own delay
 *   name      = at most 24 characters; unit at most 8
 *
 * A1 0-1023 reading on a 10-bit converter. Pins 0-3 are on every package; 4 and 5 are the I2C bus;
 * 6 and 7 exist on the flat packages only: delete their lines where there are none.
 * Included several times with other macros: no include guard, nothing else in here.
 */

/* Potentiometers of 128 mm stroke over the supply, ride height in the middle; 1.6 kHz low pass. */
ANALOG(0, TRAVEL, FL, 0.125, -64.0, 10, 1013, 100, "mm", "A0")
ANALOG(1, TRAVEL, FR, 0.125, -64.0, 10, 1013, 100, "mm", "A1")
ANALOG(2, TRAVEL, RL, 0.125, -64.0, 10, 1013, 100, "mm", "A2")
ANALOG(3, TRAVEL, RR, 0.125, -64.0, 10, 1013, 100, "mm", "A3")

/* Analog accelerometers, 0.6 V per g around 2.5 V: 5 V / 1024 / 0.6 V per g; 150 Hz low pass. */
ANALOG(6, BODY, FR, 0.008138021, -4.1666667, 20, 1003, 1060, "g", "A6")
ANALOG(7, BODY, RR, 0.008138021, -4.1666667, 20, 1003, 1060, "g", "A7")

/* Digital ones, +-8 g in 16 bits. */
SPI_AXIS(Z, BODY, FL, 0.000244140625, 0.0, -32767, 32767, 0, "g", "spi z")
SPI_AXIS(X, ALONG, NONE, 0.000244140625, 0.0, -32767, 32767, 0, "g", "spi x")
SPI_AXIS(Y, ACROSS, NONE, 0.000244140625, 0.0, -32767, 32767, 0, "g", "spi y")
I2C_AXIS(Z, BODY, RL, 0.000244140625, 0.0, -32767, 32767, 0, "g", "i2c z")
