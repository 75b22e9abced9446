"""Describe the car: its dimensions, masses, rates and knobs."""
