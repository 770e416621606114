"""A crew's own network: the authority, its files and bounds, and both doors as clients find them."""

from __future__ import annotations

import importlib
import ssl
import stat
import urllib.request
from datetime import UTC, datetime, timedelta
from urllib.error import HTTPError, URLError

import pytest
from cryptography import x509

from config import checks
from config.lan import authority, telling
from config.lan.addresses import addresses, hosts, is_of_a_crew, secure_address
from config.lan.authority import ensure, files_in, fingerprint, name_of, read
from tests.serving import crew_server

AT = datetime(2026, 11, 25, 23, 40, tzinfo=UTC)
HOSTS = ("192.168.8.20", "van", "van.local", "localhost", "127.0.0.1")


@pytest.fixture
def files(tmp_path):
    return files_in(tmp_path)


def named(path) -> set[str]:
    found = read(path).extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    return {str(each) for kind in (x509.DNSName, x509.IPAddress) for each in found.get_values_for_type(kind)}


def test_only_the_owner_reads_the_files(files):
    ensure(files, HOSTS, AT)
    assert stat.S_IMODE(files.folder.stat().st_mode) == 0o700
    assert {path.name: stat.S_IMODE(path.stat().st_mode) for path in files.folder.iterdir()} == dict.fromkeys(
        ("authority.key", "authority.pem", "server.key", "server.pem"), 0o600
    )


def test_files_that_others_could_read_are_closed_again(files):
    ensure(files, HOSTS, AT)
    files.authority_key.chmod(0o644)
    files.folder.chmod(0o755)
    ensure(files, HOSTS, AT)
    assert stat.S_IMODE(files.authority_key.stat().st_mode) == 0o600
    assert stat.S_IMODE(files.folder.stat().st_mode) == 0o700


def test_a_second_start_makes_nothing_anew(files):
    first = ensure(files, HOSTS, AT)
    bodies = {path: path.read_bytes() for path in files.folder.iterdir()}
    second = ensure(files, HOSTS, AT + timedelta(days=300))
    assert (len(first.done), second.done) == (2, ())
    assert {path: path.read_bytes() for path in files.folder.iterdir()} == bodies


def test_a_new_address_makes_a_new_certificate_under_the_same_authority(files):
    first = ensure(files, HOSTS, AT)
    second = ensure(files, ("10.0.0.7", *HOSTS), AT)
    assert second.fingerprint == first.fingerprint
    assert "10.0.0.7" in named(files.server)
    assert second.done == (
        "A new server certificate was made: this machine is now 10.0.0.7 too. "
        "Phones that trust the authority need do nothing.",
    )


def test_an_address_that_is_gone_needs_no_new_certificate(files):
    ensure(files, ("10.0.0.7", *HOSTS), AT)
    assert ensure(files, HOSTS, AT).done == ()


def test_certificates_are_renewed_before_they_run_out(files):
    first = ensure(files, HOSTS, AT)
    later = ensure(files, HOSTS, first.until - timedelta(days=29))
    assert "runs out" in later.done[0] and later.fingerprint == first.fingerprint
    last = ensure(files, HOSTS, first.authority_until - timedelta(days=29))
    assert "Every phone has to trust it once." in last.done[0]
    assert last.fingerprint != first.fingerprint
    assert len(last.done) == 2


def test_no_certificate_lasts_longer_than_phones_take_or_begins_at_this_minute(files):
    ensure(files, HOSTS, AT)
    server = read(files.server)
    assert server.not_valid_after_utc - server.not_valid_before_utc <= timedelta(days=397)
    assert server.not_valid_before_utc <= AT - timedelta(days=1)


@pytest.mark.parametrize("spoilt", ["authority.key", "authority.pem", "server.key", "server.pem"])
def test_a_spoilt_file_is_made_anew(files, spoilt):
    ensure(files, HOSTS, AT)
    (files.folder / spoilt).write_text("-----BEGIN NOTHING-----")
    assert ensure(files, HOSTS, AT).done
    assert ensure(files, HOSTS, AT).done == ()


def test_a_key_of_another_authority_is_noticed(files, tmp_path):
    ensure(files, HOSTS, AT)
    other = files_in(tmp_path / "other")
    ensure(other, HOSTS, AT)
    files.authority_key.write_bytes(other.authority_key.read_bytes())
    assert "its key is not the one beside it" in ensure(files, HOSTS, AT).done[0]


def test_what_is_neither_private_nor_local_is_left_out_and_said(files):
    kept = ensure(files, (*HOSTS, "gear.example.org", "8.8.8.8"), AT)
    assert kept.left_out == ("8.8.8.8", "gear.example.org")
    assert named(files.server) == set(HOSTS)
    assert "Not served over https: gear.example.org" in telling.told(kept, 8000, 8443)


def test_private_addresses_are_told_from_public_ones():
    from ipaddress import IPv4Address

    told = {text: is_of_a_crew(IPv4Address(text)) for text in ("192.168.1.4", "10.9.8.7", "127.0.0.1", "8.8.8.8")}
    assert told == {"192.168.1.4": True, "10.9.8.7": True, "127.0.0.1": False, "8.8.8.8": False}
    assert set(addresses()) <= set(hosts())
    assert hosts(["*", "Book.lan"])[-2:] == ["book.lan", "127.0.0.1"]


def test_the_code_in_the_terminal_reads_as_the_address_of_the_trust_page():
    import numpy
    import zxingcpp

    drawn = telling.in_blocks("http://192.168.8.20:8000/trust/")
    pixels = {"█": (255, 255), "▀": (255, 0), "▄": (0, 255), " ": (0, 0)}
    rows = [[pixels[block][half] for block in line] for line in drawn.split("\n") for half in (0, 1)]
    image = numpy.kron(numpy.array(rows, dtype=numpy.uint8), numpy.ones((4, 4), dtype=numpy.uint8))
    assert [found.text for found in zxingcpp.read_barcodes(image)] == ["http://192.168.8.20:8000/trust/"]


def test_an_open_plain_door_and_a_redirect_to_https_contradict_each_other(settings):
    settings.LAN, settings.SECURE_SSL_REDIRECT = True, True
    assert [found.id for found in checks.a_crew_network_keeps_its_plain_door()] == ["config.E003"]
    settings.SECURE_SSL_REDIRECT = False
    assert list(checks.a_crew_network_keeps_its_plain_door()) == []


def test_a_change_of_address_while_serving_is_noticed(tmp_path, monkeypatch, capsys):
    for name, value in {"LAN_PLAIN_PORT": "8000", "LAN_TLS_PORT": "8443", "VAR_DIR": str(tmp_path)}.items():
        monkeypatch.setenv(name, value)
    serving = importlib.reload(importlib.import_module("config.lan.serving"))
    reloads: list[int] = []
    assert serving.look_again(lambda: reloads.append(1)) is False
    monkeypatch.setattr(serving, "hosts", lambda more: ["10.1.2.3", *hosts(more)])
    assert serving.look_again(lambda: reloads.append(1)) is True
    assert reloads == [1]
    assert "https://10.1.2.3:8443" in capsys.readouterr().out
    assert serving.look_again(lambda: reloads.append(1)) is False


# Both doors, by the real server


@pytest.fixture(scope="module")
def crew(tmp_path_factory):
    with crew_server(tmp_path_factory.mktemp("crew")) as found:
        yield found


def trusting(path) -> ssl.SSLContext:
    """A client that trusts this one authority and no other."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    context.load_verify_locations(path)
    return context


def page(address: str, context: ssl.SSLContext | None = None) -> tuple[str, dict[str, str]]:
    with urllib.request.urlopen(address, context=context, timeout=20) as answer:  # noqa: S310
        return answer.read().decode("utf-8", "replace"), dict(answer.headers)


def test_a_client_that_trusts_the_authority_is_served_and_no_other(crew):
    body, headers = page(f"{crew.secure}/scan/", trusting(crew.files.authority))
    assert "Scan" in body
    assert "Strict-Transport-Security" not in headers
    with pytest.raises(URLError, match="CERTIFICATE_VERIFY_FAILED"):
        page(f"{crew.secure}/scan/", ssl.create_default_context())


def test_each_door_knows_which_it_is(crew):
    secure, _ = page(f"{crew.secure}/trust/", trusting(crew.files.authority))
    plain, headers = page(f"{crew.plain}/trust/")
    assert "This page came over https" in secure
    assert "You are on the plain address" in plain
    assert "This is the plain address. For camera and offline" in plain
    assert "This is the plain address. For camera and offline" not in secure
    assert "Strict-Transport-Security" not in headers
    assert f'href="{crew.secure}/scan/"' in plain


def test_the_trust_page_hands_out_the_authority_that_the_terminal_named(crew):
    with urllib.request.urlopen(f"{crew.plain}/trust/stowbook-authority.crt", timeout=20) as answer:  # noqa: S310
        assert answer.headers["Content-Type"] == "application/x-x509-ca-cert"
        given = x509.load_der_x509_certificate(answer.read())
    lines = telling.in_lines(fingerprint(given))
    body, _ = page(f"{crew.plain}/trust/")
    assert given == read(crew.files.authority)
    assert all(line in body and line in crew.said.read_text() for line in lines)
    assert f"<dd>{name_of(given)}</dd>" in body
    assert "iPhone and iPad" in body and "Android" in body and "<svg" in body


def test_the_tag_page_and_the_scan_page_open_by_the_plain_door_without_being_sent_away(crew):
    body, _ = page(f"{crew.plain}/scan/")
    assert 'data-trust="/trust/"' in body


def test_a_host_that_is_not_this_machine_is_refused(crew):
    asked = urllib.request.Request(f"{crew.plain}/scan/", headers={"Host": "elsewhere.example"})
    with pytest.raises(HTTPError, match="400"):
        urllib.request.urlopen(asked, timeout=20)  # noqa: S310


def test_the_authority_cannot_vouch_for_a_site_of_the_internet(crew, tmp_path, monkeypatch):
    """RFC 5280, 4.2.1.10: a certificate for a name outside the authority's bounds is refused by its client."""
    stolen = files_in(tmp_path)
    stolen.folder.mkdir()
    stolen.authority_key.write_bytes(crew.files.authority_key.read_bytes())
    stolen.authority.write_bytes(crew.files.authority.read_bytes())
    monkeypatch.setattr(authority, "_may_name", lambda authority, host: True)
    ensure(stolen, ("bank.example",), datetime.now(UTC))
    server = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
    server.load_cert_chain(stolen.server, stolen.server_key)
    with pytest.raises(ssl.SSLCertVerificationError, match="permitted subtree violation"):
        _handshake(server, trusting(crew.files.authority), "bank.example")
    server.load_cert_chain(crew.files.server, crew.files.server_key)
    _handshake(server, trusting(crew.files.authority), "localhost")


def _handshake(server: ssl.SSLContext, client: ssl.SSLContext, host: str) -> None:
    """Both sides in memory, without a socket."""
    there, back = ssl.MemoryBIO(), ssl.MemoryBIO()
    ours = client.wrap_bio(back, there, server_hostname=host)
    theirs = server.wrap_bio(there, back, server_side=True)
    for _ in range(4):
        for side in (ours, theirs):
            try:
                side.do_handshake()
            except ssl.SSLWantReadError:
                continue


def test_nothing_to_trust_where_the_book_is_not_served_so(client, settings):
    settings.LAN = False
    assert "There is nothing to do here" in client.get("/trust/").content.decode()
    assert client.get("/trust/stowbook-authority.crt").status_code == 404


def test_an_address_leaves_the_usual_port_out():
    assert (secure_address("van.local", 443), secure_address("van.local", 8443)) == (
        "https://van.local", "https://van.local:8443",
    )  # fmt: skip
