"""Hypothesis draws the same examples on every run and counts no time, so that a busy machine fails nothing."""

from hypothesis import settings

settings.register_profile("steady", deadline=None, derandomize=True)
settings.load_profile("steady")
