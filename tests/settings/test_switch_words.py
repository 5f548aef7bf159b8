"""Words of switches: "open" and "closed" are opposite for a contact and a valve, so they are only taken where they can't be."""

from pathlib import Path
from tomllib import loads

import pytest

from dosectl.bus.decode import decode
from dosectl.model.signals import Drop, Sample, SignalId
from dosectl.settings.load import loaded_from
from tests.builders import an_instant

MINIMAL = Path("config/minimal.toml").read_text(encoding="utf-8")


def said(signal: str, payload: bytes, more: str = "") -> Sample | Drop:
    loaded = loaded_from(loads(MINIMAL + more), Path("pool.toml"))
    binding = next(b for b in loaded.bindings if b.signal == SignalId(signal))
    return decode((binding,), payload, an_instant())[0]


COVER = '\n[signals.cover]\ntopic = "plant/cover"\nperiod_s = 60\n'


@pytest.mark.parametrize(("payload", "closed"), [(b"closed", True), (b"open", False), (b"on", True), (b"off", False)])
def test_a_closed_cover_is_a_closed_cover(payload: bytes, closed: bool) -> None:
    found = said("cover", payload, COVER)
    assert isinstance(found, Sample)
    assert found.raw is closed


@pytest.mark.parametrize("payload", [b"open", b"closed"])
def test_an_open_contact_is_never_taken_for_flow(payload: bytes) -> None:
    assert isinstance(said("flow", payload), Drop)


def test_words_of_ones_own_are_taken() -> None:
    flow = MINIMAL.replace(
        'flow = { topic = "plant/flow" }', 'flow = { topic = "plant/flow", on_words = ["closed"], off_words = ["open"] }'
    )
    loaded = loaded_from(loads(flow), Path("pool.toml"))
    binding = next(b for b in loaded.bindings if b.signal == SignalId("flow"))
    found = decode((binding,), b"closed", an_instant())[0]
    assert isinstance(found, Sample)
    assert found.raw is True
