"""Materials: every one is a density of its own name, with a source."""

from __future__ import annotations

import dataclasses

import pytest

from pitside.materials import BARITE, BARITE_FIELD, CALCIUM_CARBONATE, HEMATITE, LOW_GRAVITY, MATERIALS


@pytest.mark.parametrize("key", MATERIALS)
def test_a_material_has_a_density_that_its_name_states_and_a_source(key):
    material = MATERIALS[key]
    stated = material.name.split("(")[1].rstrip(")")
    number, unit = (stated[3:], "SG") if stated.startswith("SG") else stated.split(" ")
    assert material.density.m_as(unit) == pytest.approx(float(number))
    assert material.source


def test_the_usual_order_of_weights():
    assert LOW_GRAVITY < CALCIUM_CARBONATE < BARITE < HEMATITE


def test_field_barite_is_within_two_parts_in_a_thousand_of_the_specification():
    assert (BARITE_FIELD / BARITE).m_as("") == pytest.approx(1, abs=0.002)


def test_a_material_cannot_be_changed():
    with pytest.raises(dataclasses.FrozenInstanceError):
        MATERIALS["barite"].source = "elsewhere"
