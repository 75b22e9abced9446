"""Keep the runs of a car together: what was set, what was measured."""
