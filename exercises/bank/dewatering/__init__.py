"""Exercises of the lesson flocculation and dewatering: colloids, jar test, dose, water back to the mud."""

import enum


class Outcome(enum.StrEnum):
    """What a trainee can do after the lesson."""

    JAR_TEST = "Choose coagulant, flocculant and dose from a row of jars."
    DOSE = "Work out the flow of polymer solution, and what a day of dewatering uses."
    WATER_BACK = "Tell from cake and water what goes wrong, and whether the water may go back to the mud."
