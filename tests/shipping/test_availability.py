"""What can be promised, dock to dock; and what booking says at once."""

from datetime import timedelta

import pytest

from inventory.answers.values import Reason, Verdict
from inventory.ledger import Fact, record
from inventory.models import Verb
from shipping import booking
from shipping.availability import NO_BLANK_SET, Span, first_free, promise
from shipping.booking import BookingRefusal
from shipping.models import Booking, Return
from tests.factories import IDA, T0, make_case, make_item, make_place, make_set, make_show, make_system

DAY = timedelta(days=1)


def all_blank(sets, at):
    return {one.pk: Verdict("BLANK", f"{one} is blank.") for one in sets}


def none_blank(sets, at):
    reason = Reason("bare", "CCA is not released.", "Ask Jo Marlow to release it.")
    return {one.pk: Verdict("NOT BLANK", "it holds CCA", (reason,)) for one in sets}


def later(code="SBR", days=10, **over):
    """A show from prep day `days` after T0 until five days after that."""
    start = T0 + days * DAY
    times = {"leaves_at": start, "starts_at": start + DAY, "ends_at": start + 3 * DAY, "back_at": start + 5 * DAY}
    return make_show(code, name=f"Show {code}", **{**times, **over})


def ask(things, leaves, back, blank_sets=all_blank, **more):
    return promise(things, T0 + leaves * DAY, T0 + back * DAY, T0, blank_sets=blank_sets, **more)


def test_free_spans_leave_the_first_start_that_fits():
    span = Span(T0 + DAY, T0 + 3 * DAY, "A", "A")
    assert first_free([span], T0, DAY) == T0
    assert first_free([span], T0, 2 * DAY) == T0 + 3 * DAY
    assert first_free([span, Span(T0 + 4 * DAY, T0 + 5 * DAY, "B", "B")], T0, 2 * DAY) == T0 + 5 * DAY
    assert first_free([Span(T0, T0 + DAY, "A", "A", open_ended=True)], T0, DAY) is None


@pytest.mark.django_db
class TestPromise:
    def test_a_system_booked_nowhere_is_free(self):
        told = ask([make_system("Heron")], 10, 15)
        assert (told.answer, told.reasons, told.earliest) == ("YES", (), T0 + 10 * DAY)

    def test_the_whole_stretch_from_prep_day_to_wiped_counts_and_not_the_show_days(self):
        heron, show = make_system("Heron"), later(days=10)
        booking.book(show, heron, by="Ida Penrake", at=T0, blank_sets=all_blank)
        told = ask([heron], 14, 16)  # the show itself is over on day 13
        assert told.answer == "NO"
        assert [reason.word for reason in told.reasons] == ["double booked"]
        assert told.earliest == T0 + 15 * DAY
        assert told.hire

    def test_back_at_noon_may_leave_at_noon(self):
        heron, show = make_system("Heron"), later(days=10)
        booking.book(show, heron, by="Ida Penrake", at=T0, blank_sets=all_blank)
        assert ask([heron], 15, 16).answer == "YES"

    def test_a_cancelled_show_holds_nothing(self):
        heron, show = make_system("Heron"), later(days=10)
        booking.book(show, heron, by="Ida Penrake", at=T0, blank_sets=all_blank)
        booking.cancel(show, stage="packed", why="rain", at=T0)
        assert ask([heron], 11, 12).answer == "YES"

    def test_a_part_goes_where_its_system_goes(self):
        heron, show = make_system("Heron"), later(days=10)
        booking.book(show, heron, by="Ida Penrake", at=T0, blank_sets=all_blank)
        assert ask([make_item(home_system=heron)], 11, 12).answer == "NO"

    def test_two_systems_are_free_together_only_when_both_are(self):
        heron, curlew = make_system("Heron"), make_system("Curlew")
        booking.book(later("A", 10), heron, by="Ida Penrake", at=T0, blank_sets=all_blank)
        booking.book(later("B", 16), curlew, by="Ida Penrake", at=T0, blank_sets=all_blank)
        told = ask([heron, curlew], 11, 13)
        assert told.earliest == T0 + 21 * DAY
        assert {one.name: one.free_from for one in told.things} == {
            "Heron": T0 + 15 * DAY,
            "Curlew": T0 + 11 * DAY,
        }

    def test_without_a_blank_set_the_answer_names_the_cause_and_what_to_hire(self):
        curlew = make_system("Curlew")
        make_set("CURLEW-1", host=curlew)
        told = ask([curlew], 10, 15, blank_sets=none_blank)
        assert [reason.word for reason in told.reasons] == [NO_BLANK_SET]
        assert told.reasons[0].way_out == "Ask Jo Marlow to release it."
        assert told.hire == ("6 drives",)
        assert "once a drive set is released and wiped" in told.sentence

    def test_one_blank_set_of_two_is_enough_for_the_system(self):
        curlew = make_system("Curlew")
        first, second = make_set("CURLEW-1", host=curlew), make_set("CURLEW-2", host=curlew)

        def one_blank(sets, at):
            return {**none_blank(sets, at), second.pk: Verdict("BLANK", "blank")}

        assert ask([curlew], 10, 15, blank_sets=one_blank).answer == "YES"
        assert ask([first], 10, 15, blank_sets=one_blank).answer == "NO"

    def test_a_system_whose_last_return_is_open_past_its_day_has_no_known_end(self):
        heron, show = make_system("Heron"), later("OLD", -30)
        Booking.objects.create(show=show, system=heron, booked_at=T0, booked_by="Ida Penrake")
        Return.objects.create(show=show, opened_at=T0, opened_by="Wes Tarn")
        told = ask([heron], 10, 15)
        assert [reason.word for reason in told.reasons] == ["not back"]
        assert told.earliest is None


@pytest.mark.django_db
class TestBooking:
    def test_booking_says_at_once_that_no_set_is_blank(self):
        curlew = make_system("Curlew")
        make_set("CURLEW-1", host=curlew)
        found = booking.book(later(), curlew, by="Ida Penrake", at=T0, blank_sets=none_blank)
        assert [reason.word for reason in found] == [NO_BLANK_SET]
        assert Booking.objects.count() == 1

    def test_once_a_show_has_begun_its_sets_are_not_asked_to_be_blank(self):
        curlew, show = make_system("Curlew"), later()
        make_set("CURLEW-1", host=curlew)
        booking.book(show, curlew, by="Ida Penrake", at=T0, blank_sets=none_blank)
        before = booking.booking_findings(show, show.starts_at - DAY, blank_sets=none_blank)
        assert [reason.word for reason in before] == [NO_BLANK_SET]
        assert booking.booking_findings(show, show.starts_at, blank_sets=none_blank) == []

    def test_by_the_book_a_set_that_nobody_declared_blank_is_not_blank(self):
        curlew = make_system("Curlew")
        drives = make_set("CURLEW-1", host=curlew, bays="A B")
        found = booking.book(later(), curlew, by="Ida Penrake", at=T0)
        assert [reason.word for reason in found] == [NO_BLANK_SET]
        members = [make_item(name=f"CURLEW-1 {bay}", serial=f"72C3{bay}", home_set=drives) for bay in "AB"]
        joined = [Fact(Verb.JOINED, one, drive_set=drives, bay=one.name[-1]) for one in members]
        record(joined, by=IDA, at=T0)
        assert booking.findings_for(later(), curlew, T0 + DAY)
        record([Fact(Verb.DECLARED_BLANK, one, note="wiped at the bench") for one in members], by=IDA, at=T0)
        assert booking.findings_for(later(), curlew, T0 + DAY) == []

    def test_the_same_thing_twice_is_refused_in_words(self):
        heron, show = make_system("Heron"), later()
        booking.book(show, heron, by="Ida Penrake", at=T0, blank_sets=all_blank)
        with pytest.raises(BookingRefusal, match="already booked"):
            booking.book(show, heron, by="Ida Penrake", at=T0, blank_sets=all_blank)

    def test_nothing_is_booked_on_a_cancelled_show(self):
        show = later()
        booking.cancel(show, stage="not packed", why="rain", at=T0)
        with pytest.raises(BookingRefusal, match="cancelled"):
            booking.book(show, make_system("Heron"), by="Ida Penrake", at=T0, blank_sets=all_blank)

    @pytest.mark.parametrize(("stage", "why"), [("", "rain"), ("lost", "rain"), ("packed", " ")])
    def test_cancelling_asks_where_the_gear_is_and_why(self, stage, why):
        show = later()
        with pytest.raises(BookingRefusal):
            booking.cancel(show, stage=stage, why=why, at=T0)
        show.refresh_from_db()
        assert show.cancelled_at is None

    def test_packed_cases_of_a_cancelled_show_stay_re_assignable_until_opened(self):
        from shipping.showing import reassignable

        heron, show = make_system("Heron"), later()
        case = make_case("HER-07", home_system=heron)
        booking.book(show, heron, by="Ida Penrake", at=T0, blank_sets=all_blank)
        record([Fact(Verb.PLACED, case, place=make_place(is_ours=True))], by=IDA, at=T0)
        record([Fact(Verb.SEALED, case, seal="004470")], by=IDA, at=T0 + DAY)
        booking.cancel(show, stage="packed", why="rain", at=T0 + DAY)
        assert [(one.case, one.seal) for one in reassignable(show, T0 + 2 * DAY)] == [(case, "004470")]
        record([Fact(Verb.SEAL_BROKEN, case, note="looked in")], by=IDA, at=T0 + 2 * DAY)
        assert reassignable(show, T0 + 3 * DAY) == []
