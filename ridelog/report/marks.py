"""The line by which a page of ours is known again."""

GENERATOR_MARK = '<meta name="generator" content="ridelog">'
"""Stands in the page's head; only a file that holds it is ever replaced by a page."""
