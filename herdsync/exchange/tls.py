"""TLS 1.3 between two laptops, each of which lets the other's device key pass and no other.

Must not know what is said over it.
"""

from __future__ import annotations

import contextlib
import os
import ssl
import tempfile
from collections.abc import Callable
from pathlib import Path

from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey

from herdsync.exchange.certificates import anchors_of, private_pem

_PASSWORD_BYTES = 32

# What OpenSSL says, and what it means between laptops.
_MEANINGS = (
    (("certificate_verify_failed",), "it showed no key of a laptop of this farm"),
    (("did_not_return_a_certificate",), "it showed no key at all"),
    (("unknown_ca", "certificate_required", "bad_certificate", "certificate_unknown"),
     "it does not know this laptop as one of the farm"),
    (("http_request", "wrong_version", "unsupported_protocol", "unknown_protocol",
      "packet_length", "record_layer", "unexpected_message", "protocol_version", "no_shared",
      "decode_error", "illegal_parameter", "unexpected_record", "bad_record", "bad_length"),
     "it does not speak TLS 1.3"),
    (("eof", "unexpected_eof"), "it broke off"),
)  # fmt: skip


class Contexts:
    """This laptop's TLS contexts; ``seed`` is its device key's, ``folder`` a private folder of the user.

    The key reaches the TLS library through a file in ``folder`` that only its owner can read, locked
    with a password that is never written anywhere, and removed at once.
    """

    def __init__(self, seed: bytes, folder: Path, entropy: Callable[[int], bytes]) -> None:
        self._key = Ed25519PrivateKey.from_private_bytes(seed)
        self._folder = folder
        self.entropy = entropy
        self._made: dict[bool, tuple[frozenset[bytes], ssl.SSLContext]] = {}

    def answering(self, members: set[bytes]) -> ssl.SSLContext:
        """The context of the end that listens, letting these device keys pass."""
        return self._context(ssl.PROTOCOL_TLS_SERVER, members)

    def calling(self, members: set[bytes]) -> ssl.SSLContext:
        """The context of the end that calls, letting these device keys pass."""
        return self._context(ssl.PROTOCOL_TLS_CLIENT, members)

    def answering_anyone(self) -> ssl.SSLContext:
        """The context of the end that listens for a laptop that is not of the farm yet: it proves nothing."""
        context = ssl.SSLContext(ssl.PROTOCOL_TLS_SERVER)
        context.minimum_version = ssl.TLSVersion.TLSv1_3
        context.num_tickets = 0
        self._load_key(context)
        return context

    def _context(self, protocol: ssl._SSLMethod, members: set[bytes]) -> ssl.SSLContext:
        listens = protocol is ssl.PROTOCOL_TLS_SERVER
        earlier = self._made.get(listens)
        if earlier is not None and earlier[0] == members:
            return earlier[1]
        context = ssl.SSLContext(protocol)
        context.minimum_version = ssl.TLSVersion.TLSv1_3
        context.check_hostname = False
        context.verify_mode = ssl.CERT_REQUIRED
        context.verify_flags |= ssl.VERIFY_X509_PARTIAL_CHAIN
        context.load_verify_locations(cadata=anchors_of(sorted(members), self._key))
        if listens:
            # No resumption: who is put out stays out.
            context.num_tickets = 0
        self._load_key(context)
        self._made[listens] = frozenset(members), context
        return context

    def _load_key(self, context: ssl.SSLContext) -> None:
        password = self.entropy(_PASSWORD_BYTES).hex()
        handle, name = tempfile.mkstemp(prefix=".", suffix=".pem", dir=self._folder)
        try:
            with os.fdopen(handle, "wb") as file:
                file.write(private_pem(self._key, password.encode("ascii")))
            context.load_cert_chain(name, password=password)
        finally:
            with contextlib.suppress(OSError):
                Path(name).unlink()


def anyone() -> ssl.SSLContext:
    """The context of the end that calls and believes nobody: only what is sealed or signed inside counts."""
    context = ssl.SSLContext(ssl.PROTOCOL_TLS_CLIENT)
    context.minimum_version = ssl.TLSVersion.TLSv1_3
    context.check_hostname = False
    context.verify_mode = ssl.CERT_NONE
    return context


def meaning(fault: OSError) -> str:
    """Why a connection failed, as the rest of a sentence about the other end."""
    if isinstance(fault, TimeoutError):
        return "it said nothing for too long"
    if isinstance(fault, ssl.SSLError):
        told = str(fault).lower()
        for signs, means in _MEANINGS:
            if any(sign in told for sign in signs):
                return means
        return "it does not speak TLS 1.3 as a laptop does"
    return "it broke off"
