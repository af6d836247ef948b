"""Exercises of the lesson hydrocyclones: feed head, number of cones, cut, underflow."""

import enum


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    FEED = "Set the feed head and the number of cones, and size the pump for them."
    PARTITION = "Work with partition curves: cut point, sharpness, bypass."
    UNDERFLOW = "Judge the underflow and find what solids and liquid leave in it."
