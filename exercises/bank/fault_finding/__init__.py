"""Exercises of the lesson fault-finding: from sign to cause to first safe act."""

import enum


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    DIAGNOSE = "Tell the cause of a fault from its symptoms and name the first safe action."
    NEXT_CHECK = "Choose the one check that tells two likely causes apart."
    PASS_ON = "Write a note on a fault that the next tour can work from."
