"""What goes wrong in a way that the person at the keyboard can mend."""


class GraderError(Exception):
    """One line for a person: which file, what is wrong with it, how to mend it."""
