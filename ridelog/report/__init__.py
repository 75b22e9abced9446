"""Show results: terminal, JSON, one page."""
