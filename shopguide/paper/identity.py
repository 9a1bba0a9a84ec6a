"""The key a person signs papers with: made on first use and kept locked on this computer.

The certificate is self-signed: it proves that two papers come from the same key, and nothing about
who holds it. The private key is stored only inside a PKCS#12 locked with 256 random bits, which the
system's keyring keeps, or with as many bits stretched from a passphrase; never in plain text.
"""

from __future__ import annotations

import base64
import contextlib
import hashlib
import json
import os
import secrets
import unicodedata
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from cryptography import x509
from cryptography.hazmat.primitives import hashes, serialization
from cryptography.hazmat.primitives.asymmetric import rsa
from cryptography.hazmat.primitives.kdf.scrypt import Scrypt
from cryptography.hazmat.primitives.serialization import pkcs12
from cryptography.x509.oid import NameOID
from pyhanko.sign.signers import SimpleSigner

from shopguide.errors import PaperTrouble

if TYPE_CHECKING:
    from keyring.backend import KeyringBackend

FORMAT = "shopguide-identity/1"
FILE_NAME = "identity.json"
SCRYPT_N = 2**17
"""Work and memory to try one passphrase: about 0.8 s and 128 MB on two small cores."""

_KEY_BITS = 3072
_UNIT = "Self-signed on the owner's own computer; identity not checked"
# RFC 5280, 4.1.2.5: the date that says "no well-defined end".
_NO_END = datetime(9999, 12, 31, 23, 59, 59)
_LONGEST_NAME = 64
_MOST_SCRYPT_N = 2**20
_MOST_FILE_BYTES = 1_000_000
_SERVICE = "shopguide signing key"


@dataclass(frozen=True)
class Identity:
    """An opened key: what signs, its certificate, and the SHA-256 of that certificate in hex."""

    signer: SimpleSigner
    certificate: x509.Certificate
    fingerprint: str

    @property
    def name(self) -> str:
        """The name its owner typed; nobody has checked it."""
        return str(self.certificate.subject.get_attributes_for_oid(NameOID.COMMON_NAME)[0].value)


def tell_fingerprint(fingerprint: str) -> str:
    """The fingerprint in groups of four, to be read out or compared."""
    return " ".join(fingerprint[at : at + 4] for at in range(0, len(fingerprint), 4))


def exists(folder: Path) -> bool:
    """Whether an identity lies in this folder."""
    return (folder / FILE_NAME).exists()


def needs_passphrase(folder: Path) -> bool:
    """Whether a passphrase must be asked for, to open the identity here or to make one.

    Raises PaperTrouble when there is an identity whose file cannot be read.
    """
    if exists(folder):
        return bool(_read_file(folder / FILE_NAME)["lock"]["by"] == "passphrase")
    return _find_keyring() is None


def has_keyring() -> bool:
    """True where the operating system keeps secrets for us; else a passphrase is needed."""
    return _find_keyring() is not None


def make_identity(
    folder: Path, name: str, passphrase: str | None = None, *, scrypt_n: int = SCRYPT_N
) -> Identity:
    """Make a new key under `name` and store it in `folder`, which must hold none yet.

    Without a passphrase the system's keyring keeps what unlocks it. Takes up to some seconds.
    scrypt_n: the cost of one try at the passphrase; fewer only in tests.
    Raises PaperTrouble when there is an identity already, when the name or the passphrase cannot
    be used, when there is neither keyring nor passphrase, or when the file cannot be written.
    """
    _refuse_second(folder)
    if passphrase is None and _find_keyring() is None:
        raise _no_keyring()
    return _store(folder, *_make_key(name), passphrase, scrypt_n)


def open_identity(folder: Path, passphrase: str | None = None) -> Identity:
    """The identity stored in `folder`.

    Raises PaperTrouble when there is none, when its file is damaged, when the passphrase is wrong
    or missing, and when the keyring no longer knows what unlocks it.
    """
    return _open_file(folder / FILE_NAME, passphrase)[0]


def throwaway_identity(name: str) -> Identity:
    """A new identity that is kept nowhere: for rehearsals and tests."""
    key, certificate = _make_key(name)
    wrap = secrets.token_hex(32)
    return _unpack(_pack(key, certificate, wrap), wrap)


def export_identity(folder: Path, to: Path, passphrase: str, *, scrypt_n: int = SCRYPT_N) -> None:
    """Write the identity into the new file `to`, locked with the passphrase, for another computer.

    An identity that has a passphrase already is opened and locked with that one. Raises
    PaperTrouble where `open_identity` does, and when the file exists or cannot be written.
    """
    _check_passphrase(passphrase)
    identity, key = _open_file(folder / FILE_NAME, passphrase)
    wrap, lock = _lock_by_passphrase(passphrase, scrypt_n)
    _write_file(to, identity.fingerprint, _pack(key, identity.certificate, wrap), lock)


def import_identity(
    source: Path, folder: Path, passphrase: str, *, scrypt_n: int = SCRYPT_N
) -> Identity:
    """Take the identity in the file `source` into `folder`, which must hold none yet.

    Here it is locked by the system's keyring where there is one, else by the same passphrase.
    Raises PaperTrouble like `open_identity` and `make_identity`.
    """
    _refuse_second(folder)
    identity, key = _open_file(source, passphrase)
    by = passphrase if _find_keyring() is None else None
    return _store(folder, key, identity.certificate, by, scrypt_n)


def _make_key(name: str) -> tuple[rsa.RSAPrivateKey, x509.Certificate]:
    name = " ".join(unicodedata.normalize("NFC", name).split())
    if not name or not name.isprintable():
        raise PaperTrouble(
            "A signing key needs a name that can be printed.",
            where="Name",
            next="Write the name you want to stand on your papers.",
        )
    if len(name) > _LONGEST_NAME:
        raise PaperTrouble(
            f"The name has {len(name)} characters; a certificate holds {_LONGEST_NAME}.",
            where="Name",
            next="Shorten it.",
        )
    key = rsa.generate_private_key(public_exponent=65537, key_size=_KEY_BITS)
    subject = x509.Name(
        [
            x509.NameAttribute(NameOID.ORGANIZATIONAL_UNIT_NAME, _UNIT),
            x509.NameAttribute(NameOID.COMMON_NAME, name),
        ]
    )
    # No extended key usage: some viewers call a certificate with the usage for documents corrupt.
    certificate = (
        x509.CertificateBuilder()
        .subject_name(subject)
        .issuer_name(subject)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        # A day back, for the clocks of those who will check it.
        .not_valid_before(datetime.now(UTC) - timedelta(days=1))
        .not_valid_after(_NO_END)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(
            x509.KeyUsage(
                digital_signature=True,
                content_commitment=True,
                key_encipherment=False,
                data_encipherment=False,
                key_agreement=False,
                key_cert_sign=False,
                crl_sign=False,
                encipher_only=False,
                decipher_only=False,
            ),
            critical=True,
        )
        .add_extension(x509.SubjectKeyIdentifier.from_public_key(key.public_key()), critical=False)
        .sign(key, hashes.SHA256())
    )
    return key, certificate


def _store(
    folder: Path,
    key: rsa.RSAPrivateKey,
    certificate: x509.Certificate,
    passphrase: str | None,
    scrypt_n: int,
) -> Identity:
    fingerprint = certificate.fingerprint(hashes.SHA256()).hex()
    if passphrase is None:
        wrap, lock = _lock_by_keyring(fingerprint)
    else:
        _check_passphrase(passphrase)
        wrap, lock = _lock_by_passphrase(passphrase, scrypt_n)
    packed = _pack(key, certificate, wrap)
    try:
        _write_file(folder / FILE_NAME, fingerprint, packed, lock)
    except PaperTrouble:
        if passphrase is None:
            _forget_wrap(fingerprint)
        raise
    return _unpack(packed, wrap)


def _pack(key: rsa.RSAPrivateKey, certificate: x509.Certificate, wrap: str) -> bytes:
    # The wrap has 256 bits that cannot be guessed, so rounds would only slow the owner down; and
    # PKCS#12 checks its passphrase by a MAC that the rounds do not even cover.
    lock = (
        serialization.PrivateFormat.PKCS12.encryption_builder()
        .kdf_rounds(2048)
        .key_cert_algorithm(pkcs12.PBES.PBESv2SHA256AndAES256CBC)
        .hmac_hash(hashes.SHA256())
        .build(wrap.encode("ascii"))
    )
    return pkcs12.serialize_key_and_certificates(b"shopguide", key, certificate, None, lock)


def _unpack_key(packed: bytes, wrap: str) -> tuple[rsa.RSAPrivateKey, x509.Certificate]:
    key, certificate, _ = pkcs12.load_key_and_certificates(packed, wrap.encode("ascii"))
    if not isinstance(key, rsa.RSAPrivateKey) or certificate is None:
        raise ValueError("no RSA key with its certificate")
    return key, certificate


def _unpack(packed: bytes, wrap: str) -> Identity:
    _, certificate = _unpack_key(packed, wrap)
    signer = SimpleSigner.load_pkcs12_data(packed, [], passphrase=wrap.encode("ascii"))
    return Identity(signer, certificate, certificate.fingerprint(hashes.SHA256()).hex())


def _open_file(path: Path, passphrase: str | None) -> tuple[Identity, rsa.RSAPrivateKey]:
    stored = _read_file(path)
    lock = stored["lock"]
    if lock["by"] == "keyring":
        wrap = _recall_wrap(stored["fingerprint"], path)
    elif not passphrase:
        raise PaperTrouble(
            "The signing key is locked with a passphrase.", str(path), "Type the passphrase."
        )
    else:
        wrap = _stretch(passphrase, bytes.fromhex(lock["salt"]), lock["scrypt_n"])
    packed = base64.b64decode(stored["pkcs12"])
    try:
        key, certificate = _unpack_key(packed, wrap)
    except ValueError as fault:
        if lock["by"] == "keyring":
            raise _damaged(path) from fault
        raise PaperTrouble(
            "The passphrase is wrong, or the file of the signing key is damaged.",
            str(path),
            "Type the passphrase again; if it is surely right, bring back an exported copy.",
        ) from fault
    if certificate.fingerprint(hashes.SHA256()).hex() != stored["fingerprint"]:
        raise _damaged(path)
    return _unpack(packed, wrap), key


def _check_passphrase(passphrase: str) -> None:
    if not passphrase.strip():
        raise PaperTrouble(
            "An empty passphrase locks nothing.",
            where="Passphrase",
            next="Choose several words that nobody would guess.",
        )


def _lock_by_passphrase(passphrase: str, scrypt_n: int) -> tuple[str, dict[str, Any]]:
    salt = secrets.token_bytes(16)
    lock = {"by": "passphrase", "scrypt_n": scrypt_n, "salt": salt.hex()}
    return _stretch(passphrase, salt, scrypt_n), lock


def _stretch(passphrase: str, salt: bytes, scrypt_n: int) -> str:
    # The same keys give different characters on different systems: settle on one form.
    secret = unicodedata.normalize("NFKC", passphrase).encode("utf-8")
    return Scrypt(salt=salt, length=32, n=scrypt_n, r=8, p=1).derive(secret).hex()


def _lock_by_keyring(fingerprint: str) -> tuple[str, dict[str, Any]]:
    wrap = secrets.token_hex(32)
    store = _find_keyring()
    if store is None:
        raise _no_keyring()
    try:
        store.set_password(_SERVICE, fingerprint, wrap)
        kept = store.get_password(_SERVICE, fingerprint)
    except Exception as fault:
        # Each system's keyring raises what it likes, from a closed dialog to a dead service.
        raise _no_keyring() from fault
    if kept != wrap:
        raise _no_keyring()
    return wrap, {"by": "keyring"}


def _recall_wrap(fingerprint: str, path: Path) -> str:
    store = _find_keyring()
    wrap = None
    if store is not None:
        # Whatever a keyring raises, the answer to the person is the same.
        with contextlib.suppress(Exception):
            wrap = store.get_password(_SERVICE, fingerprint)
    if not wrap or not wrap.isascii():
        raise PaperTrouble(
            "The keyring of this computer does not give out what unlocks the signing key.",
            str(path),
            "Unlock the keyring and try again, or bring back an exported copy of the key.",
        )
    return wrap


def _forget_wrap(fingerprint: str) -> None:
    store = _find_keyring()
    if store is not None:
        # Left behind, it unlocks nothing.
        with contextlib.suppress(Exception):
            store.delete_password(_SERVICE, fingerprint)


def _find_keyring() -> KeyringBackend | None:
    """The system's own keyring, or None: files that keep secrets readable do not count."""
    # Asking for it may wake a service of the desktop, so it is imported only when needed.
    try:
        import keyring
        from keyring.backends.chainer import ChainerBackend

        chosen = keyring.get_keyring()
        stores = chosen.backends if isinstance(chosen, ChainerBackend) else [chosen]
        for store in stores:
            # From 1 on a keyring is one that its authors recommend.
            if store.priority >= 1 and not type(store).__module__.startswith("keyrings.alt"):
                return store
    except Exception:
        # A broken keyring is no keyring.
        return None
    return None


def _no_keyring() -> PaperTrouble:
    return PaperTrouble(
        "This computer offers no keyring to keep the lock of a signing key.",
        where="Signing key",
        next="Choose a passphrase; you will be asked for it whenever you sign.",
    )


def _damaged(path: Path) -> PaperTrouble:
    return PaperTrouble(
        "The file of the signing key is damaged or is not one.",
        str(path),
        "Bring back an exported copy, or move the file away to make a new key. Buyers will see "
        "a new key under another fingerprint.",
    )


def _refuse_second(folder: Path) -> None:
    if exists(folder):
        raise PaperTrouble(
            "There is a signing key already.",
            str(folder / FILE_NAME),
            "Use that one. To replace it, export it first and move its file away.",
        )


def _read_file(path: Path) -> dict[str, Any]:
    try:
        with path.open("rb") as file:
            raw = file.read(_MOST_FILE_BYTES + 1)
    except FileNotFoundError as fault:
        raise PaperTrouble(
            "There is no signing key here yet.", str(path), "Make one, or bring in an exported one."
        ) from fault
    except OSError as fault:
        raise PaperTrouble(
            f"The signing key cannot be read ({fault.strerror or fault}).",
            str(path),
            "Check the rights of the file and its folder.",
        ) from fault
    try:
        stored: dict[str, Any] = json.loads(raw)
        lock = stored["lock"]
        if stored["format"] != FORMAT or lock["by"] not in ("keyring", "passphrase"):
            raise ValueError("another format")
        if len(bytes.fromhex(stored["fingerprint"])) != hashlib.sha256().digest_size:
            raise ValueError("no fingerprint")
        base64.b64decode(stored["pkcs12"], validate=True)
        if lock["by"] == "passphrase":
            n = lock["scrypt_n"]
            # A file from elsewhere must not be able to ask for all the memory there is.
            if type(n) is not int or not 2 <= n <= _MOST_SCRYPT_N or n & (n - 1):
                raise ValueError("no cost that can be paid")
            bytes.fromhex(lock["salt"])
    except (ValueError, KeyError, TypeError, RecursionError) as fault:
        raise _damaged(path) from fault
    return stored


def _write_file(path: Path, fingerprint: str, packed: bytes, lock: dict[str, Any]) -> None:
    """A new file that only its owner can read, and that is whole or not there."""
    stored = {
        "format": FORMAT,
        "fingerprint": fingerprint,
        "lock": lock,
        "pkcs12": base64.b64encode(packed).decode("ascii"),
    }
    beside = path.with_name(f".{path.name[:80]}.{secrets.token_hex(6)}.part")
    flags = os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with open(os.open(beside, flags, 0o600), "wb") as file:
            file.write(json.dumps(stored, indent=1).encode("ascii"))
            file.flush()
            os.fsync(file.fileno())
        _name_once(beside, path)
    except FileExistsError as fault:
        raise PaperTrouble(
            "There is a file of that name already.", str(path), "Choose another name."
        ) from fault
    except OSError as fault:
        raise PaperTrouble(
            f"The signing key could not be saved ({fault.strerror or fault}).",
            str(path),
            "Free some space or change the rights of the folder, and try again.",
        ) from fault
    finally:
        with contextlib.suppress(OSError):
            beside.unlink(missing_ok=True)
    if os.name == "posix":
        # Some file systems cannot put a folder to disk; the file itself is there all the same.
        with contextlib.suppress(OSError):
            handle = os.open(path.parent, os.O_RDONLY)
            try:
                os.fsync(handle)
            finally:
                os.close(handle)


def _name_once(beside: Path, path: Path) -> None:
    """Give the finished file its name; FileExistsError when the name is taken."""
    try:
        # Unlike a rename, a second name never replaces a file, whoever else is at it.
        os.link(beside, path)
    except FileExistsError:
        raise
    except OSError:
        # A stick with a simple file system knows no second names.
        if path.exists():
            raise FileExistsError(path) from None
        os.rename(beside, path)
