"""Every unit that the file takes is one that the decoder can convert, and no switch word is one that it can't see."""

import pytest

from dosectl.bus.units import conversion
from dosectl.settings.tables.signal_kinds import SHAPES, KindShape


@pytest.mark.parametrize("shape", SHAPES, ids=lambda shape: str(shape.kind))
def test_the_decoder_knows_every_unit_of_the_file(shape: KindShape) -> None:
    for meter in shape.meters:
        assert all(conversion(shape.kind, unit) is not None for unit in meter.payload_units)
        assert conversion(shape.kind, meter.unit) == (1.0, 0.0)


def test_every_kind_of_signal_has_a_shape() -> None:
    from dosectl.model.signals import SignalKind

    assert [shape.kind for shape in SHAPES] == list(SignalKind)
