"""The certificate a laptop shows: of its device key, no authority, its private key never in the open."""

from __future__ import annotations

import ssl
import stat
import subprocess
from pathlib import Path

import pytest
from cryptography import x509
from cryptography.hazmat.primitives import serialization
from cryptography.x509.oid import ExtensionOID

from herdsync.exchange import tls
from herdsync.exchange.certificates import anchors_of, certificate_of, device_key_in, private_pem
from herdsync.exchange.tls import Contexts
from herdsync.faults import BadBytes
from tests.exchange.laptops import (
    entropy_of,
    seeds_of,
)
from tests.exchange.porch import (
    ed25519,
    seeds_key,
)


def test_the_certificate_is_of_the_device_key_and_no_authority() -> None:
    key = ed25519("house")
    made = certificate_of(key)
    assert made == certificate_of(key)
    assert made.public_key() == key.public_key()
    key.public_key().verify(made.signature, made.tbs_certificate_bytes)
    constraints = made.extensions.get_extension_for_oid(ExtensionOID.BASIC_CONSTRAINTS)
    assert constraints.critical and constraints.value == x509.BasicConstraints(False, None)
    assert made.not_valid_before_utc.year == 2020 and made.not_valid_after_utc.year == 9999
    assert device_key_in(made.public_bytes(serialization.Encoding.DER)) == seeds_key("house")


def test_openssl_reads_the_certificate(tmp_path: Path) -> None:
    """Checked by another implementation: the anchor lets it pass, another member's does not."""
    key, other = ed25519("house"), ed25519("barn")
    shown = tmp_path / "shown.pem"
    shown.write_bytes(certificate_of(key).public_bytes(serialization.Encoding.PEM))
    for member, passes in (("house", True), ("barn", False)):
        anchor = tmp_path / "anchor.pem"
        anchor.write_text(anchors_of([seeds_key(member)], other))
        try:
            done = subprocess.run(
                ["openssl", "verify", "-partial_chain", "-CAfile", str(anchor), str(shown)],
                capture_output=True,
                check=False,
            )
        except FileNotFoundError:
            pytest.skip("the openssl command is not installed")
        assert (done.returncode == 0) is passes


@pytest.mark.parametrize("der", [None, b"", b"\x30\x00", bytes(5_000)])
def test_what_is_no_certificate_is_refused(der: bytes | None) -> None:
    with pytest.raises(BadBytes):
        device_key_in(der)


def test_the_private_key_reaches_tls_locked_and_leaves_nothing_behind(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    seen: list[tuple[int, bytes]] = []
    original = ssl.SSLContext.load_cert_chain

    def watched(self: ssl.SSLContext, name: str, password: str) -> None:
        seen.append((stat.S_IMODE(Path(name).stat().st_mode), Path(name).read_bytes()))
        original(self, name, password=password)

    monkeypatch.setattr(ssl.SSLContext, "load_cert_chain", watched)
    contexts = Contexts(seeds_of("house")[0], tmp_path, entropy_of("locks"))
    contexts.calling({seeds_key("barn")})
    contexts.answering({seeds_key("barn")})
    contexts.answering({seeds_key("barn")})
    assert len(seen) == 2 and list(tmp_path.iterdir()) == []
    for mode, data in seen:
        assert mode == 0o600 and b"ENCRYPTED PRIVATE KEY" in data
        assert seeds_of("house")[0] not in data
    monkeypatch.setattr(ssl.SSLContext, "load_cert_chain", _fails)
    with pytest.raises(OSError):
        contexts.answering({seeds_key("loft")})
    assert list(tmp_path.iterdir()) == []
    assert private_pem(ed25519("house"), b"x") != private_pem(ed25519("house"), b"x")


def _fails(*_: object, **__: object) -> None:
    raise OSError("no")


def test_meanings_are_in_words() -> None:
    assert tls.meaning(TimeoutError()) == "it said nothing for too long"
    assert tls.meaning(ConnectionResetError()) == "it broke off"
    assert tls.meaning(ssl.SSLError(1, "anything")) == "it does not speak TLS 1.3 as a laptop does"
