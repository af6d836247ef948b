"""The exercise model: what an exercise is made of, how it is drawn, shown and marked."""

from exercises.model.exercise import Exercise
from exercises.model.numbers import By, Grid, Number, Numbers, Pick, System
from exercises.model.parts import (
    Before,
    Choice,
    Column,
    Convention,
    Earlier,
    Marks,
    Numeric,
    Option,
    Order,
    PrintedColumn,
    Row,
    RowConvention,
    RowSlip,
    Slip,
    Table,
    absolute,
    reading,
    relative,
)
from exercises.model.working import Step

__all__ = [
    "Before",
    "By",
    "Choice",
    "Column",
    "Convention",
    "Earlier",
    "Exercise",
    "Grid",
    "Marks",
    "Number",
    "Numbers",
    "Numeric",
    "Option",
    "Order",
    "Pick",
    "PrintedColumn",
    "Row",
    "RowConvention",
    "RowSlip",
    "Slip",
    "Step",
    "System",
    "Table",
    "absolute",
    "reading",
    "relative",
]
