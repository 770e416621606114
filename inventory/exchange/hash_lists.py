"""Media hash lists of the ASC (MHL v2.0): read with the open reference library, after a look for hostile XML.

Source of the format: the specification of ASC MHL 1.0 and its reference library `ascmhl` (MIT). What is checked: the
chain file names every list and gives each one's C4 hash; the lists are numbered without a gap; no file's hash changes
from one list to the next; no list says that a file failed; and, where the files can be reached, that each is there
and has the hash that the list gives.
"""

from __future__ import annotations

import hashlib
import re
import tempfile
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from pathlib import Path
from xml.sax import SAXParseException
from xml.sax.handler import ContentHandler, feature_namespaces
from xml.sax.xmlreader import AttributesNSImpl

from ascmhl import chain_xml_parser, hashlist_xml_parser
from ascmhl.hasher import hash_data, hash_file
from ascmhl.hashlist import MHLHashList
from defusedxml import DefusedXmlException
from defusedxml import sax as safe_sax
from lxml.etree import LxmlError

CHAIN = "ascmhl_chain.xml"
MOST_FILES, MOST_BYTES, MOST_DEPTH, MOST_ELEMENTS = 100, 12 * 2**20, 12, 500_000
MOST_READ = 2 * 2**30  # bytes of media read while a person waits; the command reads all of it
MOST_FINDINGS = 200
ROOTS = {"urn:ASC:MHL:v2.0": "hashlist", "urn:ASC:MHL:DIRECTORY:v2.0": "ascmhldirectory"}
_LIST_NAME = re.compile(r"\d{4}_[^/\\\0]{1,180}\.mhl")
UNREADABLE = (LxmlError, AttributeError, ValueError, TypeError, LookupError, OverflowError)


class HashListRefused(ValueError):
    """The upload is no media hash list that can be read. Carries a sentence to show."""


@dataclass(frozen=True, slots=True)
class Checked:
    """What a check found. `findings` is empty when everything that was looked at agrees."""

    generations: int
    files: int
    read: int
    digest: str
    findings: tuple[str, ...] = ()
    unread: tuple[str, ...] = ()

    @property
    def result(self) -> str:
        if self.findings:
            return "differs"
        return "good" if self.read and self.read == self.files else "list only"

    @property
    def sentence(self) -> str:
        lists = f"{self.generations} list{'s' if self.generations > 1 else ''}, {self.files} files"
        if self.findings:
            return f"It differs: {self.findings[0]} ({lists}, {len(self.findings)} findings)"
        if self.result == "good":
            return f"It agrees: chain, lists and all {self.files} files ({lists})."
        return f"The lists agree with their chain and with each other; {self.read} of {self.files} files were read."

    @property
    def report(self) -> str:
        return "\n".join([self.sentence, *self.findings, *self.unread])


def check_lists(files: Sequence[tuple[str, bytes]], root: Path | None = None, most_read: int = MOST_READ) -> Checked:
    """Check the files of one `ascmhl` folder, and with `root` the media below it. Raises HashListRefused."""
    bodies = _sorted_out(files)
    for name, body in bodies.items():
        _look_for_hostile(name, body)
    generations, lists = _read(bodies)
    told = _Told()
    told.findings += _chain_findings(generations, bodies)
    told.findings += _between(lists)
    wanted = _newest(lists)
    if root is not None:
        _read_media(root, wanted, told, most_read)
    digest = hashlib.sha256(b"".join(bodies[name] for name in sorted(bodies))).hexdigest()
    return Checked(
        len(lists), len(wanted), told.read, digest, tuple(told.findings[:MOST_FINDINGS]), tuple(told.unread[:20])
    )


@dataclass
class _Told:
    findings: list[str] = field(default_factory=list)
    unread: list[str] = field(default_factory=list)
    read: int = 0


def _sorted_out(files: Sequence[tuple[str, bytes]]) -> dict[str, bytes]:
    """The chain and the lists by name."""
    if len(files) > MOST_FILES:
        raise HashListRefused(f"That is {len(files)} files; {MOST_FILES} at a time is the most. Send the newest lists.")
    if sum(len(body) for _, body in files) > MOST_BYTES:
        raise HashListRefused(f"These lists are larger than {MOST_BYTES // 2**20} MB. Check the folder by command.")
    for name, _ in files:
        if name != CHAIN and not _LIST_NAME.fullmatch(name):
            raise HashListRefused(
                f"“{name}” is no part of an ascmhl folder. Send {CHAIN} and the .mhl files beside it."
            )
    bodies = dict(files)
    if CHAIN not in bodies:
        raise HashListRefused(f"{CHAIN} is missing. Send it together with the .mhl files that lie beside it.")
    if len(bodies) < 2:
        raise HashListRefused("There is no .mhl file. Send the ones that lie beside the chain file.")
    return bodies


class _Gauge(ContentHandler):
    """Counts depth and elements while a document is read, and sees its root."""

    def __init__(self) -> None:
        super().__init__()
        self.depth = self.elements = 0
        self.root: tuple[str | None, str] | None = None
        self.names: set[str] = set()

    def startElementNS(self, name: tuple[str | None, str], qname: str, attrs: AttributesNSImpl) -> None:  # noqa: N802 - SAX's
        self.root = self.root or name
        self.depth, self.elements = self.depth + 1, self.elements + 1
        if self.depth > MOST_DEPTH or self.elements > MOST_ELEMENTS:
            raise HashListRefused("It is nested too deep or holds too many entries to be a media hash list.")
        self.names.add(name[1])
        _look_at_values(attrs)

    def endElementNS(self, name: tuple[str | None, str], qname: str) -> None:  # noqa: N802 - SAX's
        self.depth -= 1


def _look_at_values(attrs: AttributesNSImpl) -> None:
    """A size is a whole number and a date is a date: the library would stop in the middle at any other."""
    size, date = attrs.get((None, "size"), "0"), attrs.get((None, "hashdate"))
    if not size.isdecimal() or len(size) > 20:
        raise HashListRefused(f"It gives a size of “{size[:20]}”, which is no number.")
    try:
        datetime.fromisoformat(date or "2026-01-01")
    except ValueError as error:
        raise HashListRefused(f"It gives a date of “{date[:30]}”, which is no date.") from error


def _look_for_hostile(name: str, body: bytes) -> None:
    """Refuse what is not well formed, declares entities or a document type, or is no hash list at all."""
    gauge = _Gauge()
    try:
        parser = safe_sax.make_parser()
        parser.forbid_dtd = True
        parser.setFeature(feature_namespaces, True)
        parser.setContentHandler(gauge)
        parser.feed(body)
        parser.close()
    except DefusedXmlException as error:
        raise HashListRefused(
            f"{name} declares a document type or entities. A hash list never does; it is not read."
        ) from error
    except SAXParseException as error:
        raise HashListRefused(
            f"{name} is cut short or broken at line {error.getLineNumber()}. Copy it again."
        ) from error
    except (ValueError, LookupError) as error:
        if isinstance(error, HashListRefused):
            raise HashListRefused(f"{name}: {error}") from error
        raise HashListRefused(f"{name} is written in letters that cannot be read. Copy it again.") from error
    wanted = "urn:ASC:MHL:DIRECTORY:v2.0" if name == CHAIN else "urn:ASC:MHL:v2.0"
    if gauge.root != (wanted, ROOTS[wanted]):
        raise HashListRefused(
            f"{name} is no ASC media hash list of version 2.0. Make one with a tool that writes these."
        )
    if name != CHAIN and not gauge.names >= {"creatorinfo", "hashes"}:
        raise HashListRefused(f"{name} lacks something that every hash list has. Make it anew.")


def _read(bodies: dict[str, bytes]) -> tuple[list, list[tuple[str, MHLHashList]]]:
    """Chain and lists by the reference library, which reads from a folder."""
    with tempfile.TemporaryDirectory() as folder:
        for name, body in bodies.items():
            Path(folder, name).write_bytes(body)
        found: list[tuple[str, MHLHashList]] = []
        name = CHAIN
        try:
            chain = chain_xml_parser.parse(str(Path(folder, CHAIN)))
            for name in sorted(bodies.keys() - {CHAIN}):
                found.append((name, hashlist_xml_parser.parse(str(Path(folder, name)))))
            return list(chain.generations), found
        except UNREADABLE as error:
            raise HashListRefused(f"{name} lacks something that every hash list has. Make it anew.") from error


def _chain_findings(generations: list, bodies: dict[str, bytes]) -> Iterator[str]:
    named = {one.ascmhl_filename: one for one in generations}
    for name, one in named.items():
        if name not in bodies:
            yield f"The chain names {name}, which was not sent."
        elif one.hash_format != "c4" or hash_data(bodies[name], "c4") != one.hash_string:
            yield f"{name} is not the list that the chain was written for: it was changed since."
    for name in sorted(bodies.keys() - {CHAIN} - named.keys()):
        yield f"{name} is in no line of the chain."
    numbers = [str(one.generation_number) for one in generations]
    if numbers != [str(n) for n in range(1, len(numbers) + 1)]:
        yield f"The chain counts {', '.join(numbers)}: a list is missing or stands twice."


def _between(lists: list[tuple[str, MHLHashList]]) -> Iterator[str]:
    """A hash that changes from list to list, and every file that a list itself calls failed."""
    first: dict[tuple[str, str], str] = {}
    for name, one in lists:
        for media, entry in _entries(one):
            if entry.action == "failed":
                yield f"{media.path} failed when {name} was written."
            known = first.setdefault((media.path, entry.hash_format), entry.hash_string)
            if known != entry.hash_string and entry.action != "failed":
                yield f"{media.path} has another {entry.hash_format} in {name} than before."


def _entries(one: MHLHashList) -> Iterator[tuple]:
    for media in one.media_hashes:
        if not media.is_directory:
            yield from ((media, entry) for entry in media.hash_entries)


def _newest(lists: list[tuple[str, MHLHashList]]) -> dict[str, tuple[str, str]]:
    """For each file the format and hash that count: the first that was not called failed."""
    found: dict[str, tuple[str, str]] = {}
    for _, one in lists:
        for media, entry in _entries(one):
            if entry.action != "failed":
                found.setdefault(str(media.path), (entry.hash_format, entry.hash_string))
    return found


def _read_media(root: Path, wanted: dict[str, tuple[str, str]], told: _Told, most_read: int) -> None:
    left, top = most_read, root.resolve()
    for path, (form, expected) in sorted(wanted.items()):
        file = (top / path).resolve()
        if not file.is_relative_to(top):
            told.findings.append(f"{path} points outside the folder; it was not read.")
        elif not file.is_file():
            told.findings.append(f"{path} is not there.")
        elif file.stat().st_size > left:
            told.unread.append(f"{path} was not read: too much to read while you wait. Use the command.")
        else:
            left -= file.stat().st_size
            told.read += 1
            if hash_file(str(file), form) != expected:
                told.findings.append(f"{path} is not what the list says: its {form} differs.")
