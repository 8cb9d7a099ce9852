"""`cal.refit`: what if the same points were fitted another way."""

import pytest

import groundstate as gs

LEVELS = [0.0, 0.5, 1.0, 2.0, 3.0]
SIGNALS = [0.0006, 0.0512, 0.1009, 0.1978, 0.2903]


def test_a_refit_is_the_calibration_that_was_never_made() -> None:
    line = gs.calibrate(LEVELS, SIGNALS)
    assert line.refit() == line
    assert line.refit(shape="quadratic") == gs.calibrate(LEVELS, SIGNALS, shape="quadratic")
    weighted = line.refit(noise="1/x", zero="leave_out")
    assert weighted == gs.calibrate(LEVELS, SIGNALS, noise="1/x", zero="leave_out")
    assert weighted.refit(noise="equal").lowest == weighted.lowest  # the choice for the zero level stays
    floor = line.refit(noise="1/x^2", zero=0.25)
    assert floor == gs.calibrate(LEVELS, SIGNALS, noise="1/x^2", zero=0.25)


def test_weights_without_a_choice_for_the_zero_level_say_what_to_give() -> None:
    with pytest.raises(gs.ArgumentError, match="leave the zero level out"):
        gs.calibrate(LEVELS, SIGNALS).refit(noise="1/x")
    with pytest.raises(gs.ArgumentError, match="zero"):
        gs.calibrate(LEVELS, SIGNALS).refit(zero="forget")  # type: ignore[arg-type]


def test_a_curve_that_turns_is_refused_or_flagged_as_asked() -> None:
    line = gs.calibrate([1.0, 2.0, 3.0, 4.0], [0.10, 0.19, 0.22, 0.20])
    with pytest.raises(gs.CalibrationError):
        line.refit(shape="quadratic")
    flagged = line.refit(shape="quadratic", allow="flagged")
    assert not flagged.is_monotonic() and flagged.findings
    assert flagged.refit(exclude=[3]) == flagged.refit(exclude=[3], allow="flagged")  # and stays admitted
    with pytest.raises(gs.ArgumentError, match="allow"):
        line.refit(allow="anything")  # type: ignore[arg-type]
