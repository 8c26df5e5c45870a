"""Does a pulse train agree with the speed that was shown?"""

from __future__ import annotations

from typing import Final

from evidpack.checks.day_parts import Reading
from evidpack.checks.displays import UNIT_MPS
from evidpack.checks.look import Look
from evidpack.checks.regression import PulseTrain
from evidpack.checks.saying import Say, figure
from evidpack.model.findings import Finding

_MAKER: Final = "The workshop or the maker can say whether such a reading is valid."


class PulseJudge:
    """Whether a pulse train agrees with its reading."""

    def __init__(self, look: Look) -> None:
        self._coverage = look.rules.value("pulse_coverage")
        self._noise = look.rules.value("pulse_noise_limit")
        self._step = look.rules.value("sawtooth_step")
        self._steps = look.speed_steps

    def allowance_mps(self, reading: Reading, train: PulseTrain) -> float:
        """What slope and display may differ by: one step of the display, plus the coverage factor
        times the standard deviation of the slope, metres per second.
        """
        unit = reading.speed_unit or "m/s"
        step = self._steps.get(unit, 1.0) * UNIT_MPS[unit]
        return step + self._coverage.number * train.slope_sd_mps

    def fault(self, say: Say, reading: Reading, train: PulseTrain | None) -> Finding | None:
        """The finding where something is wrong, else None."""
        number = reading.number
        subject = f"capture {number}"
        if train is None:
            return say.query(
                subject,
                f"The pulse times and ranges of capture {number} don't belong together: fewer than "
                "three, of different number, or times that don't rise.",
                "The maker can say how the export is to be read.",
                source="least squares needs three pulses in rising time",
            )
        if train.reset_m >= self._step.metres:
            return say.failed(
                subject,
                f"The pulse ranges of capture {number} jump by {figure(train.reset_m)} m against "
                f"their trend, as an error trap does; {figure(self._step.metres)} m count as a jump.",
                _MAKER,
                measured=figure(train.reset_m),
                rule=self._step,
            )
        if train.noise_m > self._noise.metres:
            return say.query(
                subject,
                f"The pulse ranges of capture {number} scatter by {figure(train.noise_m)} m about "
                f"a straight line, where {figure(self._noise.metres)} m are allowed.",
                _MAKER,
                measured=figure(train.noise_m),
                rule=self._noise,
            )
        return self._against_display(say, reading, train)

    def _against_display(self, say: Say, reading: Reading, train: PulseTrain) -> Finding | None:
        if reading.speed is None:
            return None
        number, unit = reading.number, reading.speed_unit
        factor = UNIT_MPS[unit]
        slope = abs(train.slope_mps) / factor
        allowed = self.allowance_mps(reading, train) / factor
        if abs(slope - reading.speed) > allowed + 1e-9:
            return say.query(
                f"capture {number}",
                f"The pulse ranges of capture {number} give {figure(slope)} {unit}, but "
                f"{reading.speed:g} {unit} was shown; display and scatter allow "
                f"{figure(allowed)} {unit}.",
                _MAKER,
                measured=figure(slope),
                limit=f"{reading.speed:g} ± {figure(allowed)}",
                unit=unit,
                source=self._coverage.cite,
            )
        direction = reading.record.values.get("direction")
        seen = "receding" if train.slope_mps > 0 else "approaching"
        clear = abs(train.slope_mps) > self._coverage.number * train.slope_sd_mps
        if direction is not None and clear and direction != seen:
            return say.query(
                f"capture {number}",
                f"The pulse ranges of capture {number} show a target that is {seen}, but "
                f"{direction} is on record.",
                "The operator can say which way the vehicle went.",
                measured=seen,
                limit=str(direction),
                source="the sign of the slope of range on time",
            )
        return None
