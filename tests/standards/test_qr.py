"""Our symbols against ISO/IEC 18004 (vectors and their source: tests/standards/qr.json)."""

from __future__ import annotations

import json
from pathlib import Path

import numpy
import pytest
import zxingcpp

from inventory import labels
from inventory.labels import QUIET, Size, address, fitted, matrix, qr_svg, side_mm, strokes

VECTORS = json.loads((Path(__file__).parent / "qr.json").read_text())
LEVELS = {(version, level): sizes for version, level, *sizes in VECTORS["capacities"]}
# Longest texts of each mode: digits, then the 45-character set, then bytes.
FILLERS = ("7", "A", "a")


def picture(modules: labels.Matrix, scale: int = 4, quiet: int = QUIET) -> numpy.ndarray:
    cells = numpy.pad(numpy.array(modules, dtype=bool), quiet)
    return numpy.kron(numpy.where(cells, 0, 255).astype(numpy.uint8), numpy.ones((scale, scale), numpy.uint8))


def test_annex_i2_s_symbol_is_reproduced_module_by_module():
    example = VECTORS["annex_I2"]
    ours = matrix(example["data"], example["ecc"], example["version"], example["mask"])
    assert ["".join("1" if module else "0" for module in row) for row in ours] == example["matrix"]


def test_annex_i2_s_symbol_drawn_as_strokes_is_still_the_same_modules():
    """The path, painted back on a grid run by run, gives the standard's matrix."""
    example = VECTORS["annex_I2"]
    ours = matrix(example["data"], example["ecc"], example["version"], example["mask"])
    painted = [["0"] * len(ours) for _ in ours]
    for run in strokes(ours, 3).split("M")[1:]:
        start, rest = run.split(" ")
        row, length = rest.split("h")
        for column in range(round(float(start)), round(float(start) + float(length))):
            painted[int(float(row))][column] = "1"
    assert ["".join(row) for row in painted] == example["matrix"]


@pytest.mark.parametrize(("version", "level"), LEVELS)
@pytest.mark.parametrize("mode", [0, 1, 2], ids=["numeric", "alphanumeric", "byte"])
def test_capacities_are_table_7_s_one_more_does_not_fit(version, level, mode):
    most = LEVELS[version, level][mode]
    assert len(matrix(FILLERS[mode] * most, level, version)) == 17 + 4 * version
    with pytest.raises(labels.DoesNotFit):
        matrix(FILLERS[mode] * (most + 1), level, version)


def test_every_symbol_is_read_back_as_the_text_it_was_made_of():
    for text in ("3479ACE", "HTTPS://GEAR.EXAMPLE.ORG/T/3479ACE", "https://gear.example.org/t/x", "שלום 🦊"):
        found = zxingcpp.read_barcodes(picture(matrix(text, "M")))
        assert [symbol.text for symbol in found] == [text]


def test_a_drive_label_is_version_1_at_three_dots_and_fits_eleven_millimetres():
    modules, dots = fitted("3479ACE", labels.SIZES["drive"])
    assert (len(modules), dots) == (21, 3)
    assert side_mm(21, 3) == pytest.approx(29 * 3 * 25.4 / 203)


def test_a_case_address_stays_in_version_2_and_is_thirty_millimetres_at_least(settings):
    settings.PUBLIC_URL = "https://gear.example.org"
    assert address("3479ace") == "HTTPS://GEAR.EXAMPLE.ORG/T/3479ACE"
    modules, dots = fitted(address("3479ACE"), labels.SIZES["case"])
    assert len(modules) == 25
    assert len(modules) * dots * labels.DOT >= 30


def test_a_longer_address_gets_smaller_modules_but_keeps_its_room():
    for length in (20, 60, 90, 150):
        for size in labels.SIZES.values():
            modules, dots = fitted("A" * length, Size(size.level, 42))
            assert side_mm(len(modules), dots) <= 42
            assert dots >= 2


def test_what_cannot_be_read_at_this_size_is_refused_with_a_sentence():
    with pytest.raises(labels.DoesNotFit, match="Use a larger label"):
        fitted("A" * 400, labels.SIZES["drive"])


def test_the_drawing_holds_its_quiet_zone():
    drawing = qr_svg("3479ACE", labels.SIZES["drive"])
    assert 'viewBox="-4 -4 29 29"' in drawing
    assert f'width="{side_mm(21, 3):.4f}mm"' in drawing
