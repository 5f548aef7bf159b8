"""The pH electrode: calibration, compensation, fitness."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from dosectl.chemistry import ph_electrode
from dosectl.chemistry.ph_electrode import Calibration, Fitness
from dosectl.chemistry.reference_solutions import Buffer, buffer_ph

calibrations = st.builds(Calibration, st.floats(-60.0, 60.0), st.floats(0.7, 1.1))


@given(calibrations, st.floats(3.0, 11.0), st.floats(2.0, 45.0))
def test_ph_comes_back_from_its_millivolts(calibration: Calibration, ph: float, temp_c: float) -> None:
    mv = ph_electrode.mv_from_ph(ph, calibration, temp_c)
    assert ph_electrode.ph_from_mv(mv, calibration, temp_c) == pytest.approx(ph, abs=1e-9)


@given(calibrations, st.floats(5.0, 40.0))
def test_two_buffers_find_offset_and_slope(calibration: Calibration, temp_c: float) -> None:
    buffers = [buffer_ph(b, temp_c) for b in (Buffer.PHOSPHATE, Buffer.PHTHALATE)]
    readings = [ph_electrode.mv_from_ph(p, calibration, temp_c) for p in buffers]
    found = ph_electrode.calibrate(readings[0], buffers[0], readings[1], buffers[1], temp_c)
    assert found.offset_mv == pytest.approx(calibration.offset_mv, abs=1e-6)
    assert found.slope_share == pytest.approx(calibration.slope_share, abs=1e-9)


def test_ten_kelvin_uncompensated_cost_a_sixtieth_at_7_5() -> None:
    mv = ph_electrode.mv_from_ph(7.5, Calibration(), 35.0)
    assert ph_electrode.ph_from_mv(mv, Calibration(), 25.0) - 7.5 == pytest.approx(0.017, abs=0.001)


def test_the_wrong_set_of_buffers_is_an_error_of_a_seventh() -> None:
    # Technical 7.00 taken for the 6.86 of the other set.
    mv = ph_electrode.mv_from_ph(7.00, Calibration())
    other = ph_electrode.mv_from_ph(4.01, Calibration())
    wrong = ph_electrode.calibrate(mv, 6.865, other, 4.008)
    assert ph_electrode.ph_from_mv(ph_electrode.mv_from_ph(7.5, Calibration()), wrong) == pytest.approx(7.34, abs=0.01)


def test_swapped_or_repeated_buffers_are_refused() -> None:
    mv7, mv4 = (ph_electrode.mv_from_ph(p, Calibration()) for p in (7.0, 4.01))
    with pytest.raises(ValueError, match="buffers swapped"):
        ph_electrode.calibrate(mv4, 7.0, mv7, 4.01)
    with pytest.raises(ValueError, match="used twice"):
        ph_electrode.calibrate(mv7, 7.0, mv7 + 1.0, 4.01)
    with pytest.raises(ValueError, match="at least 1 apart"):
        ph_electrode.calibrate(mv7, 7.0, mv7, 6.86)


@pytest.mark.parametrize(
    ("offset", "share", "fitness"),
    [(5.0, 0.98, Fitness.GOOD), (5.0, 0.90, Fitness.WORN), (35.0, 0.98, Fitness.SPENT), (0.0, 0.80, Fitness.SPENT)],
)
def test_fitness_by_offset_and_slope(offset: float, share: float, fitness: Fitness) -> None:
    assert ph_electrode.judge(Calibration(offset, share)) is fitness


def test_laboratory_limits_of_the_slope_between_two_buffers() -> None:
    # 85-105 % are told as 150-186 mV between 7.01 and 4.01.
    for share, span in ((0.85, 150.0), (1.05, 186.0)):
        calibration = Calibration(0.0, share)
        found = ph_electrode.mv_from_ph(4.01, calibration) - ph_electrode.mv_from_ph(7.01, calibration)
        assert found == pytest.approx(span, abs=1.0)
