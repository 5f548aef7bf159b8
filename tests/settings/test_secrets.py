"""Secrets come from files, are never shown, and a file that others can read is told of."""

from pathlib import Path

import pytest

from dosectl.settings.findings import SettingsError
from dosectl.settings.load import load, loaded_from
from tests.settings.example_data import example, finding, findings


@pytest.mark.parametrize("place", ["broker__password", "broker__secret", "broker__token", "forward__token", "pool__password"])
def test_a_literal_secret_is_refused_and_not_shown(place: str) -> None:
    data = example(**{place: "hunter2"})
    found = finding(data, place.replace("__", "."))
    assert "files" in found.why
    assert all("hunter2" not in str(item) for item in findings(data))


def test_an_address_with_an_account_in_it_is_refused_and_not_shown() -> None:
    data = example(forward={"url": "http://me:hunter2@db:8086"})
    assert "hunter2" not in str(finding(data, "forward.url"))
    finding(example(forward={"url": "http://db:8086/write?token=hunter2"}), "forward.url")
    assert findings(example(forward={"url": "http://db:8086"})) == ()


def with_password(tmp_path: Path, secret: bytes, mode: int = 0o600) -> Path:
    (tmp_path / "pw").write_bytes(secret)
    (tmp_path / "pw").chmod(mode)
    return tmp_path / "home.toml"


def test_a_secret_is_read_from_beside_the_settings_and_stays_out_of_sight(tmp_path: Path) -> None:
    path = with_password(tmp_path, b"hunter2\n")
    loaded = loaded_from(example(broker__username="me", broker__password_file="pw"), path)
    assert loaded.broker.password == "hunter2"
    assert "hunter2" not in repr(loaded)
    assert not any("pw" in warning for warning in loaded.warnings)


@pytest.mark.parametrize(("mode", "words"), [(0o644, "everyone"), (0o640, "its group")])
def test_a_secret_that_others_may_read_is_warned_of(tmp_path: Path, mode: int, words: str) -> None:
    path = with_password(tmp_path, b"hunter2", mode)
    warnings = loaded_from(example(broker__username="me", broker__password_file="pw"), path).warnings
    assert any(words in warning and "600" in warning for warning in warnings)


@pytest.mark.parametrize("secret", [b"", b"\n", b"a\nb\n", b"\xff\xfe", b"x" * 20_000])
def test_a_file_that_holds_no_single_secret_is_refused(tmp_path: Path, secret: bytes) -> None:
    path = with_password(tmp_path, secret)
    with pytest.raises(SettingsError, match=r"broker\.password_file"):
        loaded_from(example(broker__username="me", broker__password_file="pw"), path)


def test_a_token_file_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match=r"forward\.token_file"):
        loaded_from(example(forward={"url": "http://db:8086", "token_file": "none"}), tmp_path / "home.toml")


def test_a_certificate_that_is_not_there_is_refused(tmp_path: Path) -> None:
    with pytest.raises(SettingsError, match=r"broker\.ca_file"):
        loaded_from(example(broker__ca_file="ca.pem"), tmp_path / "home.toml")


def test_the_journal_lies_beside_the_settings_unless_said(tmp_path: Path) -> None:
    assert loaded_from(example(), tmp_path / "home.toml").journal_path == tmp_path / "pool.journal"
    assert loaded_from(example(journal={"file": "/var/lib/x"}), tmp_path / "home.toml").journal_path == Path("/var/lib/x")


def test_a_file_with_a_byte_order_mark_is_read(tmp_path: Path) -> None:
    from tests.settings.example_data import CONFIG

    path = tmp_path / "home.toml"
    path.write_bytes(b"\xef\xbb\xbf" + (CONFIG / "minimal.toml").read_bytes())
    assert load(path).site.feeders
