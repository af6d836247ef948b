"""The decorators that check dimensions: what they take, what they keep, what they refuse."""

from __future__ import annotations

import inspect
from dataclasses import FrozenInstanceError, dataclass, replace

import numpy as np
import pint
import pytest

from pitside.errors import CalculationError
from pitside.units import Q, number, quantities, quantity_fields


@quantity_fields(length="[length]", share="[]", weight="[density]", names=tuple)
@dataclass(frozen=True)
class Piece:
    length: pint.Quantity
    share: pint.Quantity | float = 0.5
    weight: pint.Quantity | None = None
    names: tuple[str, ...] = ()


def test_fields_are_kept_in_si_units_also_those_left_out():
    piece = Piece(Q(1, "ft"), names=["a", "b"])
    assert piece.length.units == Q(1, "m").units
    assert piece.length.magnitude == pytest.approx(0.3048)
    assert piece.share == Q(0.5)
    assert piece.weight is None
    assert piece.names == ("a", "b")


def test_a_record_may_be_changed_by_a_copy_alone():
    piece = Piece(Q(1, "m"))
    assert replace(piece, share=Q(20, "percent")).share.magnitude == pytest.approx(0.2)
    with pytest.raises(FrozenInstanceError):
        piece.length = Q(2, "m")


def test_a_record_shows_its_fields_to_who_asks_for_its_signature():
    assert list(inspect.signature(Piece).parameters) == ["length", "share", "weight", "names"]


@pytest.mark.parametrize(
    ("fields", "complaint"),
    [
        ({"length": Q(1, "kg")}, r"Piece: length must have a unit of \[length\], not kg"),
        ({"length": 1.0}, r"Piece: length must be a quantity with a unit of \[length\], not 1.0"),
        ({"length": Q(float("nan"), "m")}, "Piece: length must be a finite number"),
        ({"length": Q([1, np.inf], "m")}, "Piece: length must be a finite number"),
        ({"length": Q(1, "m"), "share": "half"}, r"Piece: share must be a quantity with a unit of \[\], not 'half'"),
        ({"length": Q(1, "m"), "share": True}, "Piece: share must be a quantity"),
        ({"length": pint.UnitRegistry().Quantity(1, "m")}, "Piece: length must be a quantity"),
    ],
)
def test_what_is_no_such_field_is_refused_by_name(fields, complaint):
    with pytest.raises(CalculationError, match=complaint):
        Piece(**fields)


def test_a_decorator_that_names_what_is_not_there_is_a_mistake_of_the_program():
    with pytest.raises(TypeError, match="area has no parameter depth, height"):

        @quantities(returns="[area]", width="[length]", depth="[length]", height="[length]")
        def area(width):
            return width**2

    with pytest.raises(TypeError, match="Plank has no parameter depth"):

        @quantity_fields(depth="[length]")
        @dataclass
        class Plank:
            width: pint.Quantity


def test_a_share_is_one_number_however_it_is_given():
    assert [float(number(share)) for share in (0.25, Q(0.25), Q(25, "percent"))] == [0.25] * 3
    np.testing.assert_array_equal(number(Q([10, 20], "percent")), [0.1, 0.2])
