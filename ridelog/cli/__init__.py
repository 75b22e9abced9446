"""The commands, a thin door to the rooms behind."""
