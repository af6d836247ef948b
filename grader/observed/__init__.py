"""Observed tasks: the page on which they are watched, and what comes back from it."""
