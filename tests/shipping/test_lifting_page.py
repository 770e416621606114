"""A closer look at lifting a case: the address holds the look, both methods answer or say why not."""

from __future__ import annotations

from decimal import Decimal

import pytest
from django.urls import reverse

from inventory.models import Role
from shipping.closer_look import closer_look
from shipping.forms.lifting import LiftForm, starting_figures
from tests.shipping.packed import make_heron
from tests.shipping.test_case_pages import text

GIVEN = {
    "units": "cm", "load": "32", "height_from": "20", "height_to": "75", "reach_from": "40", "reach_to": "40",
    "twist": "0", "per_minute": "0.2", "minutes_of_15": "15", "work": "short", "grip": "good",
    "zone_from": "LOWER_LEG", "zone_to": "KNUCKLE", "figures": "women",
}  # fmt: skip


@pytest.fixture
def heron(db):
    return make_heron()


def ask(client, **over):
    return client.get(reverse("case-lifting", args=["HER-03"]), {**GIVEN, **over})


def test_the_page_starts_from_the_mass_of_the_case_and_says_nothing_yet(heron, crew, sign_in):
    said = text(sign_in(crew).get(reverse("case-lifting", args=["HER-03"])))
    assert "7.1 kg. Say how it is lifted" in said and "recommended" not in said and "Guide only" in said


def test_both_methods_answer_with_the_caution(heron, crew, sign_in):
    said = text(ask(sign_in(crew)))
    # The published lift of 32 kg from floor to knuckle: 10.8 kg, 2.96 times.
    assert (
        "One person, lifting like this: 10.8 kg recommended. The load is 3.0 times that: more risk for some people."
        in said
    )
    assert "13 kg: mid lower leg to knuckle, close to the body" in said and "two people 17.3 kg" in said
    assert "they approve nothing" in said


def test_where_neither_applies_both_refuse(heron, crew, sign_in):
    said = text(ask(sign_in(crew), not_for=["ONE_HAND", "SEATED"]))
    assert "The equation gives no figure: lifted with one hand, seated or kneeling." in said
    assert "The filter gives no figure" in said and "recommended." not in said


def test_for_a_team_the_equation_refuses_and_the_filter_has_its_published_share(heron, crew, sign_in):
    said = text(ask(sign_in(crew), not_for=["TEAM"]))
    assert "The equation gives no figure: lifted by more than one person." in said and "three people 19.5 kg" in said


@pytest.mark.parametrize(
    "over", [{"load": ""}, {"load": "-3"}, {"grip": "slimy"}, {"per_minute": "0"}, {"others": "NOPE-99"}]
)
def test_what_cannot_be_read_is_asked_again(heron, crew, sign_in, over):
    assert ask(sign_in(crew), **over).status_code == 422


def test_other_cases_in_the_spell_are_reckoned_in(heron, crew, sign_in):
    make_heron("CUR-03", name="CURLEW-1")
    assert "The 2 of them in one spell" in text(ask(sign_in(crew), others="CUR-03", per_minute="2"))


def test_pounds_and_inches_use_the_figures_of_the_guide_for_them():
    form = LiftForm({**GIVEN, "units": "in", "load": "44", "height_from": "15", "height_to": "64", "reach_from": "23",
                     "reach_to": "23", "grip": "fair", "careful": "on"})  # fmt: skip
    assert form.is_valid()
    said = closer_look(form.cleaned_data)
    assert [round(end.look.recommended, 1) for end in said.equation.ends] == [16.0, 14.2]
    assert said.equation.unit == "lb" and round(said.load_kg, 2) == Decimal("19.96")


def test_a_load_dropped_in_place_is_judged_at_its_start_only():
    form = LiftForm(GIVEN)
    assert form.is_valid() and len(closer_look(form.cleaned_data).equation.ends) == 1


def test_the_reach_to_start_from_is_half_the_narrower_side_and_the_body():
    assert starting_figures(None, (800, 600))["reach_from"] == "50" and "load" not in starting_figures(
        None, (None, None)
    )


@pytest.mark.parametrize("role,status", [(Role.STAFF, 200), (Role.CLIENT, 403)])
def test_the_house_sees_it_and_a_client_does_not(heron, staff, sign_in, role, status):
    staff.role = role
    staff.save()
    assert ask(sign_in(staff)).status_code == status
