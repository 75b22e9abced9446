"""Make a log clean: one time base, mended faults, segments, filters."""
