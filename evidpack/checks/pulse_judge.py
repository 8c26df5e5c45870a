"""Does a pulse train agree with the speed that was shown?"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Final, cast

from evidpack.checks.day_parts import Reading
from evidpack.checks.displays import UNIT_MPS
from evidpack.checks.look import Look
from evidpack.checks.regression import PulseTrain
from evidpack.checks.saying import Say, captures, figure
from evidpack.model.findings import Finding

_MAKER: Final = "The workshop or the maker can say whether such a reading is valid."
_UNIT_M: Final = {"m": 1.0, "ft": 0.3048}
_SEVERAL: Final = 3  # so many readings that are wrong by one factor are told together
_ALIKE: Final = 0.05  # share by which such factors may differ


@dataclass(frozen=True, slots=True, kw_only=True)
class Apart:
    """A reading whose pulses give another speed than was shown, both in its unit."""

    reading: Reading
    slope: float
    allowed: float

    @property
    def factor(self) -> float | None:
        """The speed of the pulses as a share of the speed shown."""
        return self.slope / self.reading.speed if self.reading.speed else None


class PulseJudge:
    """Whether a pulse train agrees with its reading."""

    def __init__(self, look: Look) -> None:
        self._coverage = look.rules.value("pulse_coverage")
        self._noise = look.rules.value("pulse_noise_limit")
        self._step = look.rules.value("sawtooth_step")
        self._steps = look.speed_steps
        self._accuracy = look.rules.value("distance_tolerance")
        steps = look.range_steps
        self._range_step = max((step * _UNIT_M[unit] for unit, step in steps.items()), default=1.0)

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
        return self._among_pulses(say, reading) or self._direction(say, reading, train)

    def apart(self, reading: Reading, train: PulseTrain | None) -> Apart | None:
        """What shown speed and slope are apart, beyond what display and scatter allow; None where
        they agree, or another finding comes first.
        """
        if reading.speed is None or reading.speed < 0 or train is None or self._unsound(train):
            return None
        factor = UNIT_MPS[reading.speed_unit]
        slope = abs(train.slope_mps) / factor
        allowed = self.allowance_mps(reading, train) / factor
        if abs(slope - reading.speed) <= allowed + 1e-9:
            return None
        return Apart(reading=reading, slope=slope, allowed=allowed)

    def _unsound(self, train: PulseTrain) -> bool:
        return train.reset_m >= self._step.metres or train.noise_m > self._noise.metres

    def told_apart(self, say: Say, apart: Sequence[Apart]) -> Iterator[Finding]:
        """A query for each, or one for several that are wrong by one and the same factor: a unit
        that was declared wrongly rather than as many wrong readings.
        """
        factors = [one.factor for one in apart if one.factor]
        alike = len(factors) == len(apart) >= _SEVERAL and max(factors) <= min(factors) * (
            1 + _ALIKE
        )
        if not alike:
            yield from (self._told(say, one) for one in apart)
            return
        numbers = [one.reading.number for one in apart]
        middle = median(factors)
        yield say.query(
            captures(numbers),
            f"The pulse ranges of {captures(numbers)} all give {figure(middle, 4):g} times the speed "
            "that was shown, as if a unit were declared wrongly.",
            "The maker can say in which units pulse times and ranges are exported.",
            measured=figure(middle, 4),
            limit=1,
            unit="of the speed shown",
            source=self._coverage.cite,
        )

    def _told(self, say: Say, one: Apart) -> Finding:
        number, unit = one.reading.number, one.reading.speed_unit
        return say.query(
            f"capture {number}",
            f"The pulse ranges of capture {number} give {figure(one.slope)} {unit}, but "
            f"{one.reading.speed:g} {unit} was shown; display and scatter allow "
            f"{figure(one.allowed)} {unit}.",
            _MAKER,
            measured=figure(one.slope),
            limit=f"{one.reading.speed:g} ± {figure(one.allowed)}",
            unit=unit,
            source=self._coverage.cite,
        )

    def _among_pulses(self, say: Say, reading: Reading) -> Finding | None:
        """The range shown lies among those of the pulses, or nearer than a step and the accuracy."""
        ranges = reading.record.values.get("pulse_ranges_m")
        if reading.range_m is None or reading.range_m <= 0 or not isinstance(ranges, list):
            return None  # a range that is not positive is outside every window
        numbers = cast("list[float]", ranges)
        room = self._range_step + self._accuracy.metres
        low, high = min(numbers), max(numbers)
        if low - room - 1e-9 <= reading.range_m <= high + room + 1e-9:
            return None
        number = reading.number
        return say.query(
            f"capture {number}",
            f"Capture {number} shows a range of {figure(reading.range_m, 3):g} m, but its pulses were "
            f"{figure(low):g} to {figure(high):g} m away; display and accuracy allow "
            f"{figure(room):g} m more.",
            _MAKER,
            measured=figure(reading.range_m, 3),
            limit=f"{figure(low):g} to {figure(high):g} ± {figure(room):g}",
            unit="m",
            source=self._accuracy.cite,
        )

    def _direction(self, say: Say, reading: Reading, train: PulseTrain) -> Finding | None:
        number = reading.number
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
