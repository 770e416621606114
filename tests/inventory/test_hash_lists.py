"""Media hash lists, made and altered with the public reference tool (ASC MHL, `ascmhl`, MIT).

Exit codes of the tool, measured: 0 for unchanged data, 11 for a changed file, 10 for a missing one.
"""

from __future__ import annotations

import warnings
from pathlib import Path

import pytest
from ascmhl import commands
from ascmhl.hasher import hash_data
from click.testing import CliRunner
from django.core.files.uploadedfile import SimpleUploadedFile
from django.core.management import CommandError, call_command
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from inventory.exchange.hash_lists import CHAIN, HashListRefused, check_lists
from inventory.models import Copy, HashListCheck
from tests.inventory.test_drive_pages import do, done
from tests.inventory.test_wipe_table import SHOW


def tool(root: Path, form: str = "xxh64") -> int:
    """Its exit code. What it uses of a library that calls itself old is not ours to mend."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        return CliRunner().invoke(commands.create, [str(root), "-h", form]).exit_code


def difference(root: Path) -> int:
    with warnings.catch_warnings():
        warnings.simplefilter("ignore", DeprecationWarning)
        return CliRunner().invoke(commands.diff, [str(root)]).exit_code


@pytest.fixture
def root(tmp_path) -> Path:
    folder = tmp_path / "copies" / "FMC"
    (folder / "cards").mkdir(parents=True)
    (folder / "cards" / "A001.mov").write_bytes(b"abcd\n")
    (folder / "B001.mov").write_bytes(b"hello\n")
    assert tool(folder) == 0
    return folder


def lists(root: Path) -> list[tuple[str, bytes]]:
    return [(path.name, path.read_bytes()) for path in sorted((root / "ascmhl").iterdir())]


def test_the_published_vectors_of_the_hashes_hold():
    """Vectors measured with the reference tool: md5 and xxh64 of two short texts."""
    assert (hash_data(b"abcd\n", "md5"), hash_data(b"abcd\n", "xxh64")) == (
        "f5ac8127b3b6b85cdc13f237c6005d80", "0ea03b369a463d9d",
    )  # fmt: skip
    assert hash_data(b"hello\n", "xxh64") == "e4c191d091bd8853"


@pytest.mark.parametrize("form", ["xxh64", "md5", "sha1", "c4", "xxh128", "xxh3"])
def test_a_list_that_the_tool_made_agrees_with_its_files(root, form):
    assert tool(root, form) == 0
    checked = check_lists(lists(root), root)
    assert (checked.result, checked.generations, checked.files, checked.read) == ("good", 2, 2, 2), checked.report


def test_the_tool_finds_no_difference_where_we_find_none(root):
    """Its `diff` leaves with 0 for unchanged data, and not for a missing file; it reads no file's bytes."""
    assert difference(root) == 0 and check_lists(lists(root), root).result == "good"
    (root / "B001.mov").unlink()
    assert difference(root) != 0 and check_lists(lists(root), root).result == "differs"


def test_without_the_files_only_the_list_is_vouched_for(root):
    checked = check_lists(lists(root))
    assert checked.result == "list only" and checked.read == 0 and "0 of 2 files were read" in checked.sentence


def test_a_changed_file_differs_as_the_tool_says(root):
    (root / "B001.mov").write_bytes(b"hello!\n")
    assert any("B001.mov is not what the list says" in one for one in check_lists(lists(root), root).findings)
    assert tool(root) == 11
    assert any("B001.mov failed when" in one for one in check_lists(lists(root)).findings)


def test_a_missing_file_is_named_as_the_tool_does(root):
    (root / "B001.mov").unlink()
    assert tool(root) == 10
    assert "B001.mov is not there." in check_lists(lists(root), root).findings


def test_a_list_changed_after_it_was_written_is_seen_by_the_chain(root):
    found = [(name, body.replace(b"B001", b"C001")) if name != CHAIN else (name, body) for name, body in lists(root)]
    assert any("it was changed since" in one for one in check_lists(found).findings)


def test_a_missing_and_a_strange_list_are_named(root):
    assert tool(root) == 0
    found = lists(root)
    first = next(name for name, _ in found if name.startswith("0001"))
    said = check_lists([one for one in found if one[0] != first]).findings
    assert f"The chain names {first}, which was not sent." in said
    extra = next(body for name, body in found if name == first)
    assert "0009_x.mhl is in no line of the chain." in check_lists([*found, ("0009_x.mhl", extra)]).findings


def test_a_path_that_leads_outside_is_never_read(root, tmp_path):
    (tmp_path / "copies" / "secret.txt").write_bytes(b"hello\n")
    found = [(n, b.replace(b"B001.mov", b"../secret.txt")) if n != CHAIN else (n, b) for n, b in lists(root)]
    checked = check_lists(found, root)
    assert "../secret.txt points outside the folder; it was not read." in checked.findings and checked.read == 1


LAUGHS = b"""<?xml version="1.0"?><!DOCTYPE h [<!ENTITY a "ha"><!ENTITY b "&a;&a;&a;&a;">]>
<hashlist version="2.0" xmlns="urn:ASC:MHL:v2.0"><x>&b;</x></hashlist>"""
OUTSIDE = b"""<?xml version="1.0"?><!DOCTYPE h [<!ENTITY f SYSTEM "file:///etc/hostname">]>
<hashlist version="2.0" xmlns="urn:ASC:MHL:v2.0"><x>&f;</x></hashlist>"""
LIST = b'<hashlist version="2.0" xmlns="urn:ASC:MHL:v2.0">%s</hashlist>'
BY_PARAMETER = b"""<!DOCTYPE h [<!ENTITY % f SYSTEM "file:///etc/hostname"> %f;]>""" + LIST.replace(b"%s", b"")
MANY = b"<a/>" * 500_001


@pytest.mark.parametrize(
    ("body", "words"),
    [
        (LAUGHS, "declares a document type or entities"),
        (OUTSIDE, "declares a document type or entities"),
        (b'<!DOCTYPE h SYSTEM "http://127.0.0.1:1/x.dtd">' + LIST % b"", "declares a document type"),
        (b"<hashlist xmlns='urn:ASC:MHL:v2.0'><hashes>", "cut short or broken at line 1"),
        (b"", "cut short"),
        (b"\xff\xfe\x00junk", "0001_x.mhl"),
        (b'<?xml version="1.0" encoding="klingon"?>' + LIST % b"", "0001_x.mhl"),
        (LIST % (b"<a>" * 20 + b"</a>" * 20), "nested too deep"),
        (BY_PARAMETER, "declares a document type or entities"),
        (LAUGHS.decode().encode("utf-16"), "declares a document type or entities"),
        (LIST % b"<x>\xff\xfe</x>", "broken at line 1"),
        (b'<?xml version="1.0" encoding="ascii"?>' + LIST % "<x>ö</x>".encode(), "broken at line 1"),
        (LIST % MANY, "holds too many entries"),
        (b'<ascmhldirectory xmlns="urn:ASC:MHL:DIRECTORY:v2.0"/>', "no ASC media hash list of version 2.0"),
        (b"<html><body>not found</body></html>", "no ASC media hash list of version 2.0"),
        (b"PK\x03\x04 an archive", "broken at line 1"),
        (b"<hashlist/>", "no ASC media hash list of version 2.0"),
        (b'<hashlist xmlns="urn:ASC:MHL:v1.0"/>', "no ASC media hash list of version 2.0"),
        (LIST % b"", "lacks something that every hash list has"),
        (LIST % b'<hashes><hash><path size="many">x</path></hash></hashes>', "which is no number"),
        (LIST % b"<creatorinfo/><hashes><hash><md5 hashdate='soon'>x</md5></hash></hashes>", "which is no date"),
    ],
)
def test_bad_truncated_and_hostile_xml_is_refused_in_words(root, body, words):
    chain = next(one for one in lists(root) if one[0] == CHAIN)
    with pytest.raises(HashListRefused, match=words):
        check_lists([chain, ("0001_x.mhl", body)])


def test_a_hostile_chain_is_refused_like_a_hostile_list(root):
    rest = [one for one in lists(root) if one[0] != CHAIN]
    chain = next(body for name, body in lists(root) if name == CHAIN)
    for body in (LAUGHS, OUTSIDE, chain[: len(chain) // 2], LIST % b"", b""):
        with pytest.raises(HashListRefused, match=CHAIN):
            check_lists([(CHAIN, body), *rest])


@settings(max_examples=150, deadline=None, suppress_health_check=list(HealthCheck), derandomize=True)
@given(data=st.data())
def test_whatever_happens_to_a_list_on_its_way_it_is_checked_or_refused_in_a_sentence(root, data):
    """Bytes lost, doubled or changed anywhere: nothing but an answer comes of it, and never the answer that all is well
    unless the files are the same."""
    found = dict(lists(root))
    name = data.draw(st.sampled_from(sorted(found)))
    body, at = found[name], data.draw(st.integers(0, len(found[name]) - 1))
    length, new = data.draw(st.integers(0, 40)), data.draw(st.binary(max_size=12) | st.sampled_from([b"<", b"</hash>"]))
    found[name] = body[:at] + new + body[at + length :]
    try:
        checked = check_lists(sorted(found.items()), root)
    except HashListRefused as refusal:
        assert str(refusal).endswith((".", "”")), refusal
    else:
        assert checked.result == "differs" or found[name] == body or name == CHAIN


@pytest.mark.django_db
@pytest.mark.parametrize(
    ("body", "words"),
    [(LAUGHS, "declares a document type or entities"), (OUTSIDE, "declares a document type"), (b"<hash", "cut short"),
     (LIST % (b"<a>" * 20 + b"</a>" * 20), "nested too deep")],
)  # fmt: skip
def test_the_form_says_why_a_hostile_list_is_not_read_and_keeps_nothing(root, told, kit_manager, sign_in, body, words):
    history, client = told(SHOW), sign_in(kit_manager)
    done(client, "copy", reference="FMC", drives=history.drives["A"].pk, medium="disk", place=history.places["Quay"].pk)
    chain = next(body for name, body in lists(root) if name == CHAIN)
    files = [SimpleUploadedFile(CHAIN, chain), SimpleUploadedFile("0001_x.mhl", body)]
    answer = do(client, "hash-list", copy=Copy.objects.get().pk, files=files)
    assert answer.status_code == 422 and words in answer.content.decode()
    assert not HashListCheck.objects.exists()


def test_what_is_no_hash_list_folder_is_refused(root):
    found = lists(root)
    with pytest.raises(HashListRefused, match="is missing"):
        check_lists([one for one in found if one[0] != CHAIN])
    with pytest.raises(HashListRefused, match="no part of an ascmhl folder"):
        check_lists([*found, ("holiday.jpg", b"")])
    with pytest.raises(HashListRefused, match="There is no .mhl file"):
        check_lists([one for one in found if one[0] == CHAIN])
    with pytest.raises(HashListRefused, match="at a time is the most"):
        check_lists(found * 60)
    with pytest.raises(HashListRefused, match="larger than"):
        check_lists([*found, ("0002_x.mhl", bytes(13 * 2**20))])


@pytest.mark.django_db
def test_a_good_list_verifies_the_copy_and_a_bad_one_is_kept_too(root, told, kit_manager, sign_in, settings):
    settings.COPIES_DIR = str(root.parent)
    history, client = told(SHOW), sign_in(kit_manager)
    done(client, "copy", reference="FMC", drives=history.drives["A"].pk, medium="disk", place=history.places["Quay"].pk)
    copy = Copy.objects.get()

    def sent(folder: str) -> dict:
        return {"copy": copy.pk, "files": [SimpleUploadedFile(n, b) for n, b in lists(root)], "folder": folder}

    assert do(client, "hash-list", **sent("../../etc")).status_code == 422
    assert "list agree" in done(client, "hash-list", **sent("")) or "lists agree" in text_of(client)
    assert Copy.objects.count() == 1, "a list alone verifies nothing"
    page = done(client, "hash-list", **sent("FMC"))
    copy = Copy.objects.get(replaced_by=None)
    assert copy.verified_at and "all 2 files read" in copy.verified_how and "agrees" in page
    (root / "B001.mov").write_bytes(b"other\n")
    assert "differs" in done(client, "hash-list", **sent("FMC"))
    assert list(HashListCheck.objects.order_by("pk").values_list("result", flat=True)) == [
        "list only",
        "good",
        "differs",
    ]


def text_of(client) -> str:
    return client.get("/set/heron-1/").content.decode()


@pytest.mark.django_db
def test_without_a_chosen_file_or_a_copies_folder_the_form_says_what_to_do(root, told, kit_manager, sign_in):
    history, client = told(SHOW), sign_in(kit_manager)
    done(client, "copy", reference="FMC", drives=history.drives["A"].pk, medium="disk", place=history.places["Quay"].pk)
    copy = Copy.objects.get().pk
    assert do(client, "hash-list", copy=copy).status_code == 422
    files = [SimpleUploadedFile(n, b) for n, b in lists(root)]
    assert "COPIES_DIR is not set" in do(client, "hash-list", copy=copy, files=files, folder="FMC").content.decode()


def test_the_command_reads_everything_and_fails_where_it_differs(root, capsys):
    call_command("check_hash_list", str(root))
    assert "It agrees" in capsys.readouterr().out
    (root / "B001.mov").write_bytes(b"other\n")
    with pytest.raises(SystemExit):
        call_command("check_hash_list", str(root))
    with pytest.raises(CommandError, match="no ascmhl folder"):
        call_command("check_hash_list", str(root / "cards"))
