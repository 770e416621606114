"""A long sheet on its way in: how far it is, that it can be stopped, and that killed midway it leaves nothing."""

from __future__ import annotations

import os
import subprocess
import sys

import pytest
from django.conf import settings as given
from django.urls import reverse
from django.utils import timezone

from inventory.exchange import writer, writing
from inventory.exchange.commit import CommitRefused
from inventory.models import Entry, ImportedSheet, Item, Label
from tests.elsewhere import shared, until_so
from tests.factories import IDA
from tests.inventory.sheets import CASE, HEAD, csv_bytes, make_sheet

ROWS = [HEAD, CASE, *([f"Pane {n}", "Kittiwade", f"KW-{n:04}", "", "HER-01", "1"] for n in range(40))]
WHOLE = len(ROWS) - 1


@pytest.fixture
def kit(sign_in, kit_manager):
    return sign_in(kit_manager)


@pytest.fixture
def sheet(ours, settings, monkeypatch):
    """A sheet that counts as long, and is written some rows at a time."""
    settings.SOLVER_PROCESSES = True
    monkeypatch.setattr(writing, "LONG", 10)
    monkeypatch.setattr(writer, "THINGS_AT_ONCE", 10)
    monkeypatch.setattr(writer, "AT_ONCE", 10)
    return make_sheet(ROWS)


@pytest.fixture
def held(monkeypatch):
    """In place of the process: its hold of the lock, which dies with it when the test lets go."""
    holds = []
    monkeypatch.setattr(writing, "_spawn", lambda pk, lock: holds.append(os.dup(lock)))
    yield lambda: os.close(holds.pop())
    for one in holds:
        os.close(one)


def page(client, sheet, act=""):
    address = reverse(f"import-{act or 'sheet'}", args=[sheet.pk])
    answer = client.post(address, follow=True) if act else client.get(address)
    return " ".join(answer.content.decode().split())


def things():
    return Item.objects.count(), Label.objects.count(), Entry.objects.count()


def heard(monkeypatch, what):
    """Have what() called, with how far it is, each time the process says so."""
    said = writing._say

    def say(pk, now):
        said(pk, now)
        what(now)

    monkeypatch.setattr(writing, "_say", say)


def test_a_long_sheet_is_begun_and_its_page_says_how_far_it_is(sheet, kit, held, monkeypatch):
    assert "BEING WRITTEN" in page(kit, sheet, "commit")
    seen = []
    heard(monkeypatch, lambda now: seen.append(page(kit, sheet)))
    assert writing.write(sheet.pk, timezone.now) == ""
    numbers = [f"Things and their codes: {n} of {WHOLE}. Step 1 of 3." for n in (0, 1, 11, 21, 31)]
    numbers += [f"Where things are: {n} of 40. Step 3 of 3." for n in (0, 10, 20, 30)]
    assert [number for number, said in zip(numbers, seen, strict=True) if number not in said] == []
    assert all("nothing of it is in the book yet" in said and "Stop, and put nothing in" in said for said in seen)
    held()
    assert f"{WHOLE} things added" in page(kit, sheet)
    assert writing.state(sheet) is None


def test_how_much_is_done_only_grows(sheet, held, monkeypatch):
    parts = []
    writing.begin(sheet, by=IDA, at=timezone.now())
    heard(monkeypatch, lambda now: parts.append(now.part))
    writing.write(sheet.pk, timezone.now)
    assert parts == sorted(set(parts))
    assert 0 <= parts[0] < parts[-1] < 1


def test_stopping_midway_leaves_nothing_and_says_by_whom(sheet, kit, held, monkeypatch):
    before = things()
    page(kit, sheet, "commit")
    seen = []

    def stop_at_twenty(now):
        if now.done == 21:
            seen.append(page(kit, sheet, "stop"))

    heard(monkeypatch, stop_at_twenty)
    assert writing.write(sheet.pk, timezone.now) == "stopped"
    held()
    assert "It was asked to stop, and will in a moment." in seen[0]
    assert things() == before
    said = page(kit, sheet)
    assert "STOPPED" in said and "It was stopped by Ida Penrake. Nothing of it is in the book" in said
    assert "It was stopped by Ida Penrake." in kit.get("/import/").content.decode()


def test_after_a_stop_it_can_go_in_again(sheet, kit, held):
    page(kit, sheet, "commit")
    page(kit, sheet, "stop")
    writing.write(sheet.pk, timezone.now)
    held()
    assert "BEING WRITTEN" in page(kit, sheet, "commit")
    assert writing.write(sheet.pk, timezone.now) == ""
    assert Item.objects.count() == WHOLE


def test_a_process_that_went_without_a_word_is_said_and_leaves_nothing(sheet, kit, held):
    page(kit, sheet, "commit")
    held()
    said = page(kit, sheet)
    assert (
        "BROKEN OFF" in said and "it broke off before the end. Nothing of it is in the book; put it in again." in said
    )
    assert "BEING WRITTEN" in page(kit, sheet, "commit")


@pytest.mark.parametrize("act", ["answer", "forget", "columns", "leave-out", "commit", "abandon"])
def test_while_it_is_written_a_sheet_takes_no_other_act(sheet, kit, held, act):
    page(kit, sheet, "commit")
    assert "This sheet is being put into the book. Wait for it, or stop it first." in page(kit, sheet, act)
    assert ImportedSheet.objects.filter(pk=sheet.pk, committed_at=None).exists()


def test_of_two_who_press_at_once_the_second_is_told(sheet, held, monkeypatch):
    monkeypatch.setattr(writing, "PATIENCE", 1)
    writing.begin(sheet, by=IDA, at=timezone.now())
    with pytest.raises(CommitRefused, match="being written already"):
        writing.begin(sheet, by=IDA, at=timezone.now())


def test_what_stands_in_the_way_is_said_before_a_process_starts(sheet, kit, monkeypatch):
    monkeypatch.setattr(writing, "_spawn", lambda pk, lock: pytest.fail("it was started"))
    ImportedSheet.objects.filter(pk=sheet.pk).update(body=csv_bytes([*ROWS, [*ROWS[-1]]]))
    assert "1 cell must change" in page(kit, sheet, "commit")
    assert writing.state(sheet) is None


def test_what_comes_in_the_way_later_is_said_on_its_page(sheet, kit, held):
    page(kit, sheet, "commit")
    ImportedSheet.objects.filter(pk=sheet.pk).update(body=csv_bytes([HEAD]))
    assert writing.write(sheet.pk, timezone.now) == "refused"
    held()
    assert "It could not go in: There is no row to import." in page(kit, sheet)


def test_an_error_leaves_nothing_and_is_told_apart(sheet, kit, held, monkeypatch):
    page(kit, sheet, "commit")
    monkeypatch.setattr(writer.Writer, "_parts", lambda self: 1 // 0)
    before = things()
    with pytest.raises(ZeroDivisionError):
        writing.write(sheet.pk, timezone.now)
    held()
    assert things() == before
    assert "it broke off before the end (ZeroDivisionError)" in page(kit, sheet)


def test_a_short_sheet_goes_in_while_its_page_waits(ours, settings, kit, monkeypatch):
    settings.SOLVER_PROCESSES = True
    monkeypatch.setattr(writing, "_spawn", lambda pk, lock: pytest.fail("it was started"))
    assert "IN THE BOOK" in page(kit, make_sheet(ROWS), "commit")


def test_what_a_thrown_away_book_left_is_not_told_of_a_new_sheet(sheet, held):
    writing.begin(sheet, by=IDA, at=timezone.now())
    sheet.uploaded_at = timezone.now()
    assert writing.state(sheet) is None


def test_a_sheet_put_away_leaves_no_files(sheet, kit, held):
    page(kit, sheet, "commit")
    held()
    page(kit, sheet, "abandon")
    assert list((given.VAR_DIR / "imports").iterdir()) == []


KILLED = """
import os, signal, django
django.setup()
from django.utils import timezone
from inventory.exchange import writer, writing
writer.AT_ONCE = writer.THINGS_AT_ONCE = 10
said = writing._say
def say(pk, now):
    said(pk, now)
    if (now.step, now.done) == ("entries", 20):
        os.kill(os.getpid(), signal.SIGKILL)
writing._say = say
writing.write(%d, timezone.now)
"""


@pytest.mark.django_db(transaction=True)
class TestInAProcessOfItsOwn:
    @pytest.fixture
    def ask(self, sheet, tmp_path, monkeypatch):
        monkeypatch.setenv("VAR_DIR", str(tmp_path))
        monkeypatch.setenv("DJANGO_SETTINGS_MODULE", "config.settings")
        return shared(tmp_path, monkeypatch)

    def test_it_goes_in_whole_though_nobody_waits(self, sheet, ask):
        writing.begin(sheet, by=IDA, at=timezone.now())
        until_so(lambda: not writing.is_written(sheet.pk), "the process has ended")
        assert ask("SELECT count(*) FROM inventory_item") == (WHOLE,)
        assert ask("SELECT count(*) FROM inventory_entry WHERE by = 'Ida Penrake'") == (40,)

    def test_killed_midway_it_leaves_nothing_and_can_be_begun_again(self, sheet, ask, kit, monkeypatch):
        spawned = []

        def spawn(pk, lock):
            command = [sys.executable, "-c", KILLED % pk]
            spawned.append(subprocess.Popen(command, cwd=given.BASE_DIR, pass_fds=[lock]))

        with monkeypatch.context() as patched:
            patched.setattr(writing, "_spawn", spawn)
            writing.begin(sheet, by=IDA, at=timezone.now())
        assert spawned[0].wait(60) == -9
        now = writing.state(sheet)
        assert (now.is_alive, now.step, now.done) == (False, "entries", 20)
        assert ask("SELECT count(*) FROM inventory_item") == (0,)
        assert ask("SELECT count(*) FROM inventory_label") == (0,)
        assert "BROKEN OFF" in page(kit, sheet)
        writing.begin(sheet, by=IDA, at=timezone.now())
        until_so(lambda: not writing.is_written(sheet.pk), "the process has ended")
        assert ask("SELECT count(*) FROM inventory_item") == (WHOLE,)
