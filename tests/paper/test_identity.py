"""The signing key: made once, locked by keyring or passphrase, carried, never stored in plain."""

from __future__ import annotations

import base64
import json
import os
import stat

import keyring
import keyring.backend
import keyring.errors
import pytest
from cryptography import x509
from cryptography.hazmat.primitives import hashes
from cryptography.hazmat.primitives.serialization import (
    Encoding,
    NoEncryption,
    PrivateFormat,
    load_der_private_key,
    pkcs12,
)
from cryptography.x509.oid import NameOID

from shopguide.errors import PaperTrouble
from shopguide.paper import identity

PASSPHRASE = "four loose screws"
QUICK = 2**4


class FakeKeyring(keyring.backend.KeyringBackend):
    """A keyring in memory that behaves like a desktop's, or fails like one."""

    priority = 5

    def __init__(self):
        super().__init__()
        self.kept = {}
        self.locked = False

    def set_password(self, service, username, password):
        if self.locked:
            raise keyring.errors.KeyringLocked("locked")
        self.kept[service, username] = password

    def get_password(self, service, username):
        if self.locked:
            raise keyring.errors.KeyringLocked("locked")
        return self.kept.get((service, username))

    def delete_password(self, service, username):
        del self.kept[service, username]


@pytest.fixture
def store():
    before = keyring.get_keyring()
    fake = FakeKeyring()
    keyring.set_keyring(fake)
    yield fake
    keyring.set_keyring(before)


@pytest.fixture(scope="module")
def made(tmp_path_factory):
    """A folder with an identity locked by PASSPHRASE, and that identity."""
    folder = tmp_path_factory.mktemp("made")
    return folder, identity.make_identity(folder, "Edda Lint", PASSPHRASE, scrypt_n=QUICK)


def read_stored(folder):
    return json.loads((folder / identity.FILE_NAME).read_text())


def test_the_certificate_says_what_it_is_and_no_more(made):
    _, one = made
    certificate = one.certificate
    assert one.name == "Edda Lint"
    assert certificate.subject == certificate.issuer
    (unit,) = certificate.subject.get_attributes_for_oid(NameOID.ORGANIZATIONAL_UNIT_NAME)
    assert unit.value == "Self-signed on the owner's own computer; identity not checked"
    assert len(certificate.subject) == 2
    assert certificate.version is x509.Version.v3
    assert certificate.public_key().key_size == 3072
    assert certificate.not_valid_after_utc.year == 9999
    usage = certificate.extensions.get_extension_for_class(x509.KeyUsage)
    assert usage.critical
    assert usage.value.digital_signature
    assert usage.value.content_commitment
    assert not usage.value.key_cert_sign
    constraints = certificate.extensions.get_extension_for_class(x509.BasicConstraints)
    assert constraints.critical
    assert not constraints.value.ca
    assert certificate.extensions.get_extension_for_class(x509.SubjectKeyIdentifier)
    with pytest.raises(x509.ExtensionNotFound):
        certificate.extensions.get_extension_for_class(x509.ExtendedKeyUsage)
    certificate.verify_directly_issued_by(certificate)


def test_the_fingerprint_is_the_certificates_and_is_told_in_fours(made):
    _, one = made
    assert one.fingerprint == one.certificate.fingerprint(hashes.SHA256()).hex()
    groups = identity.tell_fingerprint(one.fingerprint).split(" ")
    assert [len(group) for group in groups] == [4] * 16
    assert "".join(groups) == one.fingerprint


def test_what_was_made_is_opened_again(made):
    folder, one = made
    again = identity.open_identity(folder, PASSPHRASE)
    assert again.fingerprint == one.fingerprint
    assert again.certificate == one.certificate
    assert again.signer.signing_cert.dump() == one.certificate.public_bytes(Encoding.DER)
    key = load_der_private_key(again.signer.signing_key.dump(), None)
    assert key.public_key() == one.certificate.public_key()


@pytest.mark.skipif(os.name != "posix", reason="only POSIX has these modes")
def test_only_its_owner_can_read_the_file(made):
    folder, _ = made
    assert stat.S_IMODE((folder / identity.FILE_NAME).stat().st_mode) == 0o600
    assert [path.name for path in folder.iterdir()] == [identity.FILE_NAME]


def test_no_private_key_lies_in_the_file_in_plain(made):
    folder, one = made
    stored = read_stored(folder)
    raw = base64.b64decode(stored["pkcs12"])
    key = load_der_private_key(one.signer.signing_key.dump(), None)
    plain = key.private_bytes(Encoding.DER, PrivateFormat.PKCS8, NoEncryption())
    exponent = key.private_numbers().d
    secret = exponent.to_bytes((exponent.bit_length() + 7) // 8, "big")
    assert secret in plain
    assert secret not in raw
    # Neither no passphrase, nor the typed one, nor anything stored beside it opens the PKCS#12.
    for attempt in (None, b"", PASSPHRASE.encode(), stored["lock"]["salt"].encode()):
        with pytest.raises((ValueError, TypeError)):
            pkcs12.load_key_and_certificates(raw, attempt)
    # The right way in is another one: the failures above are not those of a broken file.
    assert identity.open_identity(folder, PASSPHRASE).fingerprint == one.fingerprint


@pytest.mark.parametrize("attempt", ["four loose screw", "Four loose screws", " ", "ünïcode"])
def test_a_wrong_passphrase_is_told(made, attempt):
    with pytest.raises(PaperTrouble, match="passphrase is wrong"):
        identity.open_identity(made[0], attempt)


@pytest.mark.parametrize("attempt", [None, ""])
def test_no_passphrase_where_one_is_needed_is_told(made, attempt):
    assert identity.needs_passphrase(made[0])
    with pytest.raises(PaperTrouble, match="locked with a passphrase"):
        identity.open_identity(made[0], attempt)


def test_a_passphrase_typed_on_another_system_is_the_same(tmp_path):
    one = identity.make_identity(tmp_path, "Edda Lint", "Schlüssel", scrypt_n=QUICK)
    assert identity.open_identity(tmp_path, "Schlu\u0308ssel").fingerprint == one.fingerprint


def test_the_usual_cost_of_a_passphrase_is_what_is_stored(made):
    assert identity.SCRYPT_N == 2**17
    assert read_stored(made[0])["lock"]["scrypt_n"] == QUICK


def test_a_second_identity_never_replaces_the_first(made):
    folder, _ = made
    before = (folder / identity.FILE_NAME).read_bytes()
    assert identity.exists(folder)
    with pytest.raises(PaperTrouble, match="already"):
        identity.make_identity(folder, "Somebody Else", "other", scrypt_n=QUICK)
    with pytest.raises(PaperTrouble, match="already"):
        identity.import_identity(folder / identity.FILE_NAME, folder, PASSPHRASE)
    assert (folder / identity.FILE_NAME).read_bytes() == before


def test_two_that_write_at_once_do_not_replace_each_other(made, tmp_path, monkeypatch):
    monkeypatch.setattr(identity, "exists", lambda folder: False)
    (tmp_path / identity.FILE_NAME).write_text("the other one was quicker")
    with pytest.raises(PaperTrouble, match="file of that name"):
        identity.import_identity(made[0] / identity.FILE_NAME, tmp_path, PASSPHRASE)
    assert (tmp_path / identity.FILE_NAME).read_text() == "the other one was quicker"
    assert len(list(tmp_path.iterdir())) == 1


def test_without_keyring_and_passphrase_nothing_is_made(tmp_path):
    assert identity.needs_passphrase(tmp_path)
    with pytest.raises(PaperTrouble, match="no keyring") as caught:
        identity.make_identity(tmp_path, "Edda Lint")
    assert "passphrase" in caught.value.next
    assert not identity.exists(tmp_path)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("passphrase", ["", "   "])
def test_an_empty_passphrase_is_refused(tmp_path, passphrase):
    with pytest.raises(PaperTrouble, match="empty passphrase"):
        identity.make_identity(tmp_path, "Edda Lint", passphrase, scrypt_n=QUICK)
    assert not identity.exists(tmp_path)


@pytest.mark.parametrize("name", ["", "  ", "bell\a", "N" * 65])
def test_a_name_that_no_certificate_can_hold_is_refused(tmp_path, name):
    with pytest.raises(PaperTrouble):
        identity.make_identity(tmp_path, name, PASSPHRASE, scrypt_n=QUICK)


def test_a_keyring_keeps_the_lock_and_nothing_else(store, tmp_path):
    assert not identity.needs_passphrase(tmp_path)
    one = identity.make_identity(tmp_path, "Edda Lint")
    assert not identity.needs_passphrase(tmp_path)
    ((entry, wrap),) = store.kept.items()
    assert entry[1] == one.fingerprint
    # Short enough for the smallest of the systems' keyrings, and not the key itself.
    assert len(bytes.fromhex(wrap)) == 32
    assert wrap not in (tmp_path / identity.FILE_NAME).read_text()
    assert read_stored(tmp_path)["lock"] == {"by": "keyring"}
    assert identity.open_identity(tmp_path).fingerprint == one.fingerprint


def test_a_keyring_that_forgot_or_is_locked_is_told(store, tmp_path):
    identity.make_identity(tmp_path, "Edda Lint")
    store.locked = True
    with pytest.raises(PaperTrouble, match="keyring") as caught:
        identity.open_identity(tmp_path)
    assert "exported copy" in caught.value.next
    store.locked = False
    assert identity.open_identity(tmp_path)
    store.kept.clear()
    with pytest.raises(PaperTrouble, match="keyring"):
        identity.open_identity(tmp_path)


def test_a_keyring_that_refuses_leaves_nothing_behind(store, tmp_path):
    store.locked = True
    with pytest.raises(PaperTrouble, match="no keyring"):
        identity.make_identity(tmp_path, "Edda Lint")
    assert list(tmp_path.iterdir()) == []


def test_a_keyring_in_a_plain_file_is_not_used(tmp_path):
    kind = type("PlaintextKeyring", (FakeKeyring,), {"__module__": "keyrings.alt.file"})
    before = keyring.get_keyring()
    keyring.set_keyring(kind())
    try:
        assert identity.needs_passphrase(tmp_path)
    finally:
        keyring.set_keyring(before)


def test_a_full_disk_takes_back_what_the_keyring_got(store, tmp_path, monkeypatch):
    def fail(handle):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(identity.os, "fsync", fail)
    with pytest.raises(PaperTrouble, match="could not be saved"):
        identity.make_identity(tmp_path, "Edda Lint")
    assert store.kept == {}
    assert list(tmp_path.iterdir()) == []


def test_a_key_moves_to_another_computer_by_its_exported_file(store, tmp_path):
    here, there, carried = tmp_path / "here", tmp_path / "there", tmp_path / "carried.json"
    one = identity.make_identity(here, "Edda Lint")
    identity.export_identity(here, carried, PASSPHRASE, scrypt_n=QUICK)
    # The other computer's keyring has never heard of it.
    store.kept.clear()
    with pytest.raises(PaperTrouble, match="passphrase is wrong"):
        identity.import_identity(carried, there, "guess", scrypt_n=QUICK)
    assert not identity.exists(there)
    moved = identity.import_identity(carried, there, PASSPHRASE, scrypt_n=QUICK)
    assert moved.fingerprint == one.fingerprint
    assert identity.open_identity(there).fingerprint == one.fingerprint


def test_without_a_keyring_the_moved_key_keeps_its_passphrase(made, tmp_path):
    folder, one = made
    carried = tmp_path / "carried.json"
    with pytest.raises(PaperTrouble, match="passphrase is wrong"):
        identity.export_identity(folder, carried, "another one", scrypt_n=QUICK)
    identity.export_identity(folder, carried, PASSPHRASE, scrypt_n=QUICK)
    if os.name == "posix":
        assert stat.S_IMODE(carried.stat().st_mode) == 0o600
    with pytest.raises(PaperTrouble, match="already"):
        identity.export_identity(folder, carried, PASSPHRASE, scrypt_n=QUICK)
    there = tmp_path / "there"
    identity.import_identity(carried, there, PASSPHRASE, scrypt_n=QUICK)
    assert identity.open_identity(there, PASSPHRASE).fingerprint == one.fingerprint


def test_where_there_is_none_that_is_said(tmp_path):
    assert not identity.exists(tmp_path)
    with pytest.raises(PaperTrouble, match="no signing key here"):
        identity.open_identity(tmp_path, PASSPHRASE)


@pytest.mark.parametrize(
    "spoil",
    [
        lambda raw: b"",
        lambda raw: raw[: len(raw) // 2],
        lambda raw: b"\xff" + raw,
        lambda raw: b"[]",
        lambda raw: b"[" * 50_000,
        lambda raw: raw.replace(b"shopguide-identity/1", b"shopguide-identity/9"),
        lambda raw: raw.replace(b'"scrypt_n": 16', b'"scrypt_n": 1073741824'),
        lambda raw: raw.replace(b'"scrypt_n": 16', b'"scrypt_n": 15'),
        lambda raw: raw.replace(b'"pkcs12": "', b'"pkcs12": "AAAA'),
        lambda raw: raw.replace(b'"by": "passphrase"', b'"by": "nobody"'),
        lambda raw: raw.replace(b'"fingerprint": "', b'"fingerprint": "00'),
    ],
)
def test_a_damaged_file_is_told_and_kept(made, tmp_path, spoil):
    raw = (made[0] / identity.FILE_NAME).read_bytes()
    spoiled = spoil(raw)
    assert spoiled != raw
    (tmp_path / identity.FILE_NAME).write_bytes(spoiled)
    with pytest.raises(PaperTrouble, match="damaged"):
        identity.open_identity(tmp_path, PASSPHRASE)
    assert (tmp_path / identity.FILE_NAME).read_bytes() == spoiled


def test_a_fingerprint_written_over_is_told(made, tmp_path):
    raw = (made[0] / identity.FILE_NAME).read_text()
    (tmp_path / identity.FILE_NAME).write_text(raw.replace(made[1].fingerprint, "ab" * 32))
    with pytest.raises(PaperTrouble, match="damaged"):
        identity.open_identity(tmp_path, PASSPHRASE)


def test_throwaway_identities_are_kept_nowhere_and_differ(user_home):
    one, other = (identity.throwaway_identity("REHEARSAL") for _ in range(2))
    assert one.name == other.name == "REHEARSAL"
    assert one.fingerprint != other.fingerprint
    assert list(user_home.iterdir()) == []
