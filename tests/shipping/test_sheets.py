"""Lists as tables for a spreadsheet: read back with the csv module and openpyxl, as a stranger would."""

from __future__ import annotations

import csv
import io
from datetime import date
from decimal import Decimal

import openpyxl
import pytest
from django.contrib.messages import get_messages
from django.urls import reverse
from django.utils import timezone

from inventory.models import IssuedPaper
from shipping import border, sheets
from shipping.documents.border_list import spans
from tests.factories import IDA
from tests.shipping.packed import make_heron, make_leg, make_show
from tests.shipping.papered import AT, make_world


@pytest.fixture
def listed(db):
    heron = make_heron()
    kind = heron.drives[0].type
    kind.replacement_value, kind.currency, kind.country_of_origin, kind.mass_kg = (
        Decimal(400),
        "GBP",
        "GB",
        Decimal("0.7"),
    )
    kind.save()
    leg = make_leg(make_show(at=timezone.now()), [heron.box], crosses_border=True)
    return border.draft(leg.consignment.show, "GL-2207", valid_until=date(2027, 3, 1))


def rows_of(response) -> list[list[str]]:
    assert response.status_code == 200 and "attachment" in response["Content-Disposition"]
    return list(csv.reader(io.StringIO(response.content.decode("utf-8-sig"))))


def said(response) -> str:
    return " ".join(str(one) for one in get_messages(response.wsgi_request))


def test_an_issued_list_comes_as_csv_line_by_line(listed, staff, sign_in):
    border.issue(listed, by=IDA, at=timezone.now())
    heading, *lines = rows_of(sign_in(staff).get(reverse("border-csv", args=[listed.pk])))
    assert heading == list(sheets.BORDER_HEADING)
    told = [dict(zip(heading, line, strict=True)) for line in lines]
    kept = list(listed.lines.order_by("line"))
    assert [row["serial"] for row in told] == [line.serial for line in kept] and len(told) == 3
    assert [row["line"] for row in told] == ["1", "2", "3"]
    assert {(row["origin"], row["currency"], row["value"], row["valid until"]) for row in told} == {
        ("GB", "GBP", "400.00", "2027-03-01")
    }


def test_a_draft_and_a_blocked_list_go_into_no_table_and_on_no_paper(listed, kit_manager, sign_in):
    client, table = sign_in(kit_manager), reverse("border-csv", args=[listed.pk])
    draft = client.get(table)
    assert draft.status_code == 302 and "is a draft still. Issue it first" in said(draft)
    border.issue(listed, by=IDA, at=timezone.now())
    listed.lines.filter(line=1).update(serial="71B04X")
    for refused in (client.get(table), client.post(reverse("paper-issue", args=["border-list", f"list {listed.pk}"]))):
        assert refused.status_code == 302
        assert "One thing stands in the way of printing it." in said(refused) and "71B04X" in said(refused)
    assert not IssuedPaper.objects.exists()


def test_an_issued_list_is_printed_from_its_page(listed, kit_manager, sign_in):
    client, page = sign_in(kit_manager), reverse("border-list", args=[listed.pk])
    assert "Print border list" not in client.get(page).content.decode()
    border.issue(listed, by=IDA, at=timezone.now())
    assert "Print border list" in client.get(page).content.decode()
    client.post(reverse("paper-issue", args=["border-list", f"list {listed.pk}"]))
    assert IssuedPaper.objects.get().data["body"]["crossings"][0]["out"] == "1-3"
    assert "CURRENT" in client.get(page).content.decode()


def test_a_case_comes_as_a_workbook_with_what_is_in_it_and_what_should_be(db, staff, sign_in, settings):
    world = make_world()
    answer = sign_in(staff).get(reverse("case-xlsx", args=["HER-01"]))
    heading, *rows = openpyxl.load_workbook(io.BytesIO(answer.content)).active.iter_rows(values_only=True)
    told = [dict(zip(heading, row, strict=True)) for row in rows]
    panel = next(row for row in told if row["serial"] == "OR-84E9038F")
    assert (panel["case"], panel["maker"], panel["here"], panel["expected"]) == ("HER-01", "Orrinvale", True, True)
    assert panel["mass kg"] == pytest.approx(16.2) and panel["code"] == world.panel.code


def test_what_goes_to_a_show_is_one_table_of_all_its_cases(db):
    world = make_world()
    heading, *rows = sheets.show_rows(world.show, AT)
    where = {row[heading.index("serial")]: row[0] for row in rows}
    assert where["OR-84E9038F"] == "HER-01" and where["PM-0071B04K"] == "HER-04"


def test_a_name_that_a_spreadsheet_would_run_stays_text(db, kit_manager, sign_in):
    world = make_world()
    world.panel.name = "=HYPERLINK(1)"
    world.panel.save()
    heading, *rows = rows_of(sign_in(kit_manager).get(reverse("case-csv", args=["HER-01"])))
    assert "'=HYPERLINK(1)" in [row[heading.index("name")] for row in rows]


@pytest.mark.parametrize(
    "numbers,words", [((), ""), ((4,), "4"), ((1, 2, 3, 7, 9, 10), "1-3, 7, 9-10"), ((2, 1), "1-2")]
)
def test_line_numbers_are_told_in_spans(numbers, words):
    assert spans(numbers) == words
