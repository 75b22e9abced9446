"""Turn clean signals into numbers with intervals."""
