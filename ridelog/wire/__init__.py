"""Frames on the serial line and in recordings; `firmware_notes/wire_format.md` documents them."""
