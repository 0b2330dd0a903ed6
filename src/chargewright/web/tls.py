"""A certificate of the workshop's own, so that phones may keep the app and use it offline.

A small authority signs the server's certificate and its key is then thrown away: whoever trusts
the authority on a phone trusts this one server and nothing that could be signed later.
"""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta
from ipaddress import ip_address
from pathlib import Path

from chargewright.errors import InputError, StoreError

DAYS = 397  # what browsers accept of a server at most (CA/Browser Forum baseline requirements)


def certificate_files(store: Path) -> tuple[Path, Path, Path]:
    """Return where certificate chain, key and authority lie beside a store."""
    names = (".tls-chain.pem", ".tls-key.pem", ".tls-authority.crt")
    chain, key, authority = (store.with_name(store.name + name) for name in names)
    return chain, key, authority


def make_certificate(store: Path, names: tuple[str, ...], *, now: datetime | None = None) -> Path:
    """Write chain, key (for the owner only) and authority; return the authority's file.

    Raises ``InputError`` when the package ``cryptography`` is missing.
    """
    try:
        from cryptography import x509
        from cryptography.hazmat.primitives import hashes, serialization
        from cryptography.hazmat.primitives.asymmetric import ec
        from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID
    except ImportError as error:
        raise InputError(
            "a certificate needs the package cryptography: install chargewright[tls]"
        ) from error
    now = now or datetime.now(UTC)

    def named(text: str) -> x509.Name:
        return x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, text)])

    def begun(
        subject: x509.Name, issuer: x509.Name, key: ec.EllipticCurvePublicKey
    ) -> x509.CertificateBuilder:
        return (
            x509.CertificateBuilder()
            .subject_name(subject)
            .issuer_name(issuer)
            .public_key(key)
            .serial_number(x509.random_serial_number())
            .not_valid_before(now - timedelta(days=1))
            .not_valid_after(now + timedelta(days=DAYS))
        )

    ca_key, key = ec.generate_private_key(ec.SECP256R1()), ec.generate_private_key(ec.SECP256R1())
    ca_name = named("Chargewright workshop authority")
    signs = x509.KeyUsage(
        digital_signature=False,
        content_commitment=False,
        key_encipherment=False,
        data_encipherment=False,
        key_agreement=False,
        key_cert_sign=True,
        crl_sign=True,
        encipher_only=False,
        decipher_only=False,
    )
    ca = (
        begun(ca_name, ca_name, ca_key.public_key())
        .add_extension(x509.BasicConstraints(ca=True, path_length=0), critical=True)
        .add_extension(signs, critical=True)
        .sign(ca_key, hashes.SHA256())
    )

    def general(name: str) -> x509.GeneralName:
        try:
            return x509.IPAddress(ip_address(name))
        except ValueError:
            return x509.DNSName(name)

    others = [general(name) for name in dict.fromkeys((*names, "localhost", "127.0.0.1"))]
    leaf = (
        begun(named("Chargewright service"), ca_name, key.public_key())
        .add_extension(x509.SubjectAlternativeName(others), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(ca_key, hashes.SHA256())
    )
    pem = serialization.Encoding.PEM
    chain_file, key_path, authority = certificate_files(store)
    _write(chain_file, leaf.public_bytes(pem) + ca.public_bytes(pem), 0o644)
    _write(authority, ca.public_bytes(pem), 0o644)
    secret = key.private_bytes(pem, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    _write(key_path, secret, 0o600)
    return authority


def _write(path: Path, data: bytes, mode: int) -> None:
    draft = path.with_name(path.name + ".draft")
    try:
        draft.unlink(missing_ok=True)
        with open(os.open(draft, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode), "wb") as file:
            file.write(data)
        os.replace(draft, path)
    except OSError as error:
        raise StoreError(f"{path}: cannot be written: {error.strerror or error}") from error
