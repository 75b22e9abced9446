"""Bring a log in: files, clocks, columns, units, calibrations."""
