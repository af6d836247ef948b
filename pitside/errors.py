"""The one error that every calculation raises, and the warning beside it."""


class CalculationError(ValueError):
    """The inputs are of the wrong kind, or describe something that cannot be.

    The message is one line for a person: what was given, what is wrong with it, what would do.
    """


class ValidityWarning(UserWarning):
    """The inputs lie outside the range in which the equation was shown to hold; a value still comes back."""
