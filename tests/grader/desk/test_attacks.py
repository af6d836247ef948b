"""The attacks of the list gain nothing at the desk."""

from tests.grader.desk.attacks import ATTACKS, held


def test_no_attack_of_the_list_gains_anything(tmp_path):
    found = dict(held(tmp_path))
    assert set(found) == set(ATTACKS)
    assert {what: happened for what, happened in found.items() if happened.startswith("NOT HELD")} == {}
