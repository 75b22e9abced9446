"""From a serial port into a file: nothing received is lost. Analysis begins in `ingest`."""
