"""An authority of the crew's own and the server certificate it vouches for, kept as files that only the owner reads.

The authority can vouch for private addresses and local names alone (RFC 5280, 4.2.1.10): whoever steals its key from
this machine can pass for no site of the internet on a freelancer's phone.
"""

from __future__ import annotations

import os
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from ipaddress import IPv4Address, IPv6Address, ip_address, ip_network
from pathlib import Path

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import ec
from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

AUTHORITY_LASTS = timedelta(days=5 * 365)
SERVER_LASTS = timedelta(days=397)  # phones refuse longer ones; 398 days is the browsers' common limit
RENEW = timedelta(days=30)  # before the end
EARLIER = timedelta(days=2)  # so that a phone whose clock is slow takes a certificate of today
NETWORKS = (
    "10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "169.254.0.0/16", "192.0.2.0/24", "127.0.0.0/8", "fc00::/7",
    "::1/128",
)  # fmt: skip
NAMES = ("local", "lan", "home.arpa", "internal", "localhost")
USES = (
    "digital_signature", "content_commitment", "key_encipherment", "data_encipherment", "key_agreement",
    "key_cert_sign", "crl_sign", "encipher_only", "decipher_only",
)  # fmt: skip
Key = ec.EllipticCurvePrivateKey


@dataclass(frozen=True, slots=True)
class Files:
    """Where they are, below VAR_DIR."""

    folder: Path

    @property
    def authority(self) -> Path:
        return self.folder / "authority.pem"

    @property
    def authority_key(self) -> Path:
        return self.folder / "authority.key"

    @property
    def server(self) -> Path:
        """The server's certificate and, behind it, the authority's."""
        return self.folder / "server.pem"

    @property
    def server_key(self) -> Path:
        return self.folder / "server.key"


@dataclass(frozen=True, slots=True)
class Kept:
    """What stands ready: until when, for which hosts, and in `done` what had to be made anew and why."""

    files: Files
    fingerprint: str
    hosts: tuple[str, ...]
    until: datetime
    authority_until: datetime
    done: tuple[str, ...] = ()
    left_out: tuple[str, ...] = ()


def files_in(var_dir: Path) -> Files:
    return Files(var_dir / "lan")


def ensure(files: Files, hosts: Iterable[str], at: datetime) -> Kept:
    """Make what is missing, renew what ran out or does not name these hosts, and say what was done."""
    files.folder.mkdir(parents=True, exist_ok=True)
    files.folder.chmod(0o700)
    done = _new_authority(files, tuple(hosts), at)
    authority = _certificate(files.authority)
    asked = tuple(host for host in dict.fromkeys(hosts) if _may_name(authority, host))
    done += _new_server(files, authority, asked, at, anew=bool(done))
    for path in (files.authority_key, files.server_key, files.authority, files.server):
        path.chmod(0o600)
    server = _certificate(files.server)
    return Kept(
        files=files, fingerprint=fingerprint(authority), hosts=asked, until=server.not_valid_after_utc,
        authority_until=authority.not_valid_after_utc, done=tuple(done),
        left_out=tuple(sorted(set(hosts) - set(asked))),
    )  # fmt: skip


def fingerprint(certificate: x509.Certificate) -> str:
    """SHA-256 as phones show it: pairs of hexadecimal digits."""
    return certificate.fingerprint(hashes.SHA256()).hex(":").upper()


def name_of(certificate: x509.Certificate) -> str:
    """The name under which phones list it."""
    return str(certificate.subject.get_attributes_for_oid(NameOID.COMMON_NAME)[0].value)


def read(path: Path) -> x509.Certificate | None:
    """The first certificate in a file, or None where there is none that can be read."""
    try:
        return _certificate(path)
    except (OSError, ValueError):
        return None


def _certificate(path: Path) -> x509.Certificate:
    return x509.load_pem_x509_certificate(path.read_bytes())


def _key(path: Path) -> Key | None:
    try:
        found = serialization.load_pem_private_key(path.read_bytes(), password=None)
    except (OSError, ValueError, TypeError):
        return None
    return found if isinstance(found, ec.EllipticCurvePrivateKey) else None


def _why_anew(path: Path, key_path: Path, at: datetime) -> str:
    """Why this certificate cannot stay, or ""."""
    certificate, key = read(path), _key(key_path)
    if certificate is None or key is None:
        return "there was none" if not path.exists() else "the one before could not be read"
    if certificate.public_key() != key.public_key():
        return "its key is not the one beside it"
    if certificate.not_valid_after_utc - RENEW < at:
        return "the one before runs out"
    return "the machine's clock went back" if certificate.not_valid_before_utc > at else ""


def _new_authority(files: Files, hosts: tuple[str, ...], at: datetime) -> list[str]:
    why = _why_anew(files.authority, files.authority_key, at)
    if not why:
        return []
    key = ec.generate_private_key(ec.SECP256R1())
    own = next((host for host in hosts if _address(host) is None), "localhost")
    name = x509.Name([
        x509.NameAttribute(NameOID.ORGANIZATION_NAME, "Stowbook"),
        x509.NameAttribute(NameOID.COMMON_NAME, f"Stowbook on {own}, {at:%d %b %Y}"[:64]),
    ])  # fmt: skip
    made = _begun(name, name, key, at, AUTHORITY_LASTS)
    made = made.add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
    made = made.add_extension(_usage("key_cert_sign", "crl_sign"), critical=True)
    made = made.add_extension(_bounds(hosts), critical=True)
    _write(files.authority_key, _pem(key))
    _write(files.authority, made.sign(key, hashes.SHA256()).public_bytes(serialization.Encoding.PEM))
    return [f"A new authority was made: {why}. Every phone has to trust it once."]


def _bounds(hosts: tuple[str, ...]) -> x509.NameConstraints:
    own = [host for host in hosts if _address(host) is None and "." not in host]
    networks: list[x509.GeneralName] = [x509.IPAddress(ip_network(each)) for each in NETWORKS]
    names: list[x509.GeneralName] = [x509.DNSName(each) for each in dict.fromkeys((*NAMES, *own))]
    return x509.NameConstraints(permitted_subtrees=networks + names, excluded_subtrees=None)


def _address(host: str) -> IPv4Address | IPv6Address | None:
    try:
        return ip_address(host)
    except ValueError:
        return None


def _may_name(authority: x509.Certificate, host: str) -> bool:
    """Does the authority's own bound let it vouch for this host?"""
    bound = authority.extensions.get_extension_for_class(x509.NameConstraints).value.permitted_subtrees or []
    if (address := _address(host)) is not None:
        networks = [ip_network(str(each.value)) for each in bound if isinstance(each, x509.IPAddress)]
        return any(address in network for network in networks)
    names = [each.value for each in bound if isinstance(each, x509.DNSName)]
    return any(host == name or host.endswith(f".{name}") for name in names)


def _new_server(
    files: Files, authority: x509.Certificate, hosts: tuple[str, ...], at: datetime, *, anew: bool
) -> list[str]:
    why = "the authority is new" if anew else _why_anew(files.server, files.server_key, at)
    why = why or _not_named(files, authority, hosts)
    if not why:
        return []
    signer, key = _key(files.authority_key), ec.generate_private_key(ec.SECP256R1())
    assert signer is not None
    lasts = min(SERVER_LASTS, authority.not_valid_after_utc - at)
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "Stowbook")])
    made = _begun(name, authority.subject, key, at, lasts, signer)
    made = made.add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
    made = made.add_extension(_usage("digital_signature"), critical=True)
    made = made.add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
    made = made.add_extension(_alternatives(hosts), critical=False)
    chain = made.sign(signer, hashes.SHA256()), authority
    _write(files.server_key, _pem(key))
    _write(files.server, b"".join(each.public_bytes(serialization.Encoding.PEM) for each in chain))
    return [f"A new server certificate was made: {why}. Phones that trust the authority need do nothing."]


def _not_named(files: Files, authority: x509.Certificate, hosts: tuple[str, ...]) -> str:
    server = _certificate(files.server)
    if server.issuer != authority.subject:
        return "the one before was another authority's"
    named = server.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    known = {str(value) for kind in (x509.DNSName, x509.IPAddress) for value in named.get_values_for_type(kind)}
    missing = [host for host in hosts if host not in known]
    return f"this machine is now {', '.join(missing)} too" if missing else ""


def _alternatives(hosts: tuple[str, ...]) -> x509.SubjectAlternativeName:
    return x509.SubjectAlternativeName(
        [x509.DNSName(host) if _address(host) is None else x509.IPAddress(ip_address(host)) for host in hosts]
    )


def _begun(
    name: x509.Name, issuer: x509.Name, key: Key, at: datetime, lasts: timedelta, signer: Key | None = None
) -> x509.CertificateBuilder:
    """What every certificate carries. `lasts` counts from the earlier beginning, so that no limit is passed."""
    public = key.public_key()
    begun = x509.CertificateBuilder().subject_name(name).issuer_name(issuer).public_key(public)
    begun = begun.serial_number(x509.random_serial_number())
    begun = begun.not_valid_before(at - EARLIER).not_valid_after(at - EARLIER + lasts)
    begun = begun.add_extension(x509.SubjectKeyIdentifier.from_public_key(public), critical=False)
    issuing = (signer or key).public_key()
    return begun.add_extension(x509.AuthorityKeyIdentifier.from_issuer_public_key(issuing), critical=False)


def _usage(*uses: str) -> x509.KeyUsage:
    return x509.KeyUsage(**{use: use in uses for use in USES})


def _pem(key: Key) -> bytes:
    return key.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )


def _write(path: Path, body: bytes) -> None:
    """Whole or not at all, and never readable by others, not for a moment."""
    beside = path.with_suffix(f"{path.suffix}.new")
    beside.unlink(missing_ok=True)
    with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600), "wb") as file:
        file.write(body)
        file.flush()
        os.fsync(file.fileno())
    beside.replace(path)
