"""A laptop's certificate for TLS, bound to its device key, and what lets such a certificate pass.

The certificate (RFC 5280) is of the very key that signs the laptop's entries, signed by that key, and is
no authority (CA:FALSE). Nothing of a partner's certificate needs to be stored: the members' keys are
known, so each laptop makes, for each member, an anchor that holds the member's key under the name the
member's certificate gives as its issuer. What passes is still held against the members afterwards.
TLS 1.3 signs under a context of its own (RFC 8446, 4.4.3), entries under ours: neither passes for the
other. Must not know sockets or the farm.
"""

from __future__ import annotations

from datetime import UTC, datetime

from cryptography import x509
from cryptography.hazmat.primitives import serialization
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey, Ed25519PublicKey
from cryptography.x509.oid import NameOID

from herdsync.faults import BadBytes

# A flat clock battery must not lock a laptop out.
_FROM = datetime(2020, 1, 1, tzinfo=UTC)
_UNTIL = datetime(9999, 12, 31, 23, 59, 59, tzinfo=UTC)
_SUBJECT = "herdsync laptop"
_CERTIFICATE_BYTES = 4_096


def certificate_of(key: Ed25519PrivateKey) -> x509.Certificate:
    """The certificate of a device key, always the same."""
    public = key.public_key()
    issuer = x509.AuthorityKeyIdentifier.from_issuer_public_key(public)
    builder = _builder(_SUBJECT, _issuer_of(public), public, authority=False)
    return builder.add_extension(issuer, critical=False).sign(key, None)


def anchors_of(members: list[bytes], key: Ed25519PrivateKey) -> str:
    """PEM text that lets the certificates of these device keys pass; ``key`` only seals the anchors."""
    anchors = []
    for member in members:
        public = Ed25519PublicKey.from_public_bytes(member)
        anchor = _builder(_issuer_of(public), "herdsync anchor", public, authority=True)
        pem = anchor.sign(key, None).public_bytes(serialization.Encoding.PEM)
        anchors.append(pem.decode("ascii"))
    return "".join(anchors)


def device_key_in(der: bytes | None) -> bytes:
    """The device key a certificate is of. Raises BadBytes where it is not one a laptop shows."""
    if der is None or len(der) > _CERTIFICATE_BYTES:
        raise BadBytes("It shows no certificate of a laptop.")
    try:
        public = x509.load_der_x509_certificate(der).public_key()
    except ValueError as fault:
        raise BadBytes("Its certificate cannot be read.") from fault
    if not isinstance(public, Ed25519PublicKey):
        raise BadBytes("Its certificate is not of a device key.")
    return public.public_bytes_raw()


def private_pem(key: Ed25519PrivateKey, password: bytes) -> bytes:
    """Certificate and private key as one PEM text, the key locked with a password."""
    locked = key.private_bytes(
        serialization.Encoding.PEM,
        serialization.PrivateFormat.PKCS8,
        serialization.BestAvailableEncryption(password),
    )
    return certificate_of(key).public_bytes(serialization.Encoding.PEM) + locked


def _issuer_of(public: Ed25519PublicKey) -> str:
    return public.public_bytes_raw().hex()


def _builder(
    subject: str, issuer: str, public: Ed25519PublicKey, *, authority: bool
) -> x509.CertificateBuilder:
    return (
        x509.CertificateBuilder()
        .subject_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, subject)]))
        .issuer_name(x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, issuer)]))
        .public_key(public)
        .serial_number(1)
        .not_valid_before(_FROM)
        .not_valid_after(_UNTIL)
        .add_extension(x509.BasicConstraints(ca=authority, path_length=None), critical=True)
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(public), critical=False)
    )
