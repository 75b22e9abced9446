"""Turn numbers into knob turns, springs and heights."""
