"""The numbers behind the checks of readings, for `explain`."""

from __future__ import annotations

import math
from collections.abc import Iterator

from evidpack.checks.approvals import window_for
from evidpack.checks.day_parts import Reading
from evidpack.checks.displays import UNIT_MPS
from evidpack.checks.geometry import cosine_factor, pairs_of_one_vehicle, site_of
from evidpack.checks.limit_orders import limit_for
from evidpack.checks.look import Look
from evidpack.checks.pulse_judge import PulseJudge
from evidpack.checks.readings import pulse_series
from evidpack.checks.regression import PulseFitter
from evidpack.checks.saying import figure
from evidpack.checks.second_speed import reading_uncertainty_mps, second_speed
from evidpack.checks.threshold import practice
from evidpack.model.fields import RecordKind


def _shown(reading: Reading) -> str:
    return "no speed" if reading.speed is None else f"{reading.speed:g} {reading.speed_unit}"


def slopes(look: Look) -> Iterator[str]:
    """Check 10: the window of each session, and the line through the pulses of each reading."""
    fitter = PulseFitter(look.rules.value("sawtooth_step").metres)
    judge = PulseJudge(look)
    sessions = {session.id: session for session in look.sessions}
    for name in sorted(look.by_session, key=str):
        window = window_for(look, sessions.get(name) if name is not None else None)
        yield (
            f"session {name}: window {window.range_min_m:g} to {window.range_max_m:g} m "
            f"({window.range_source}), speed {window.speed_min or '0'} to "
            f"{window.speed_max or 'no upper limit stated'}"
        )
        for reading in look.by_session[name]:
            times, ranges = pulse_series(reading)
            train = fitter.fit(times, ranges)
            shown = f"shown {_shown(reading)} at {reading.range_m} m"
            if train is None:
                yield f"capture {reading.number}: {shown}, no pulse train [{reading.record.source}]"
                continue
            factor = UNIT_MPS.get(reading.speed_unit, 1.0)
            yield (
                f"capture {reading.number}: {shown}; n = {train.count}, b = "
                f"{train.slope_mps:.4f} m/s = {abs(train.slope_mps) / factor:.3f} "
                f"{reading.speed_unit}, u(b) = {train.slope_sd_mps:.4f} m/s, s = "
                f"{train.noise_m:.4f} m, reset {train.reset_m:.3f} m, allowed ± "
                f"{judge.allowance_mps(reading, train) / factor:.3f} {reading.speed_unit} "
                f"[{reading.record.source}]"
            )


def cosines(look: Look) -> Iterator[str]:
    """Check 14: the cosine factor of each reading, and readings of one vehicle after each other."""
    for session in look.sessions:
        site = site_of(look, session)
        offset = site.length("offset") if site is not None else None
        if site is None or offset is None:
            continue
        height = site.length("height")
        y = height.metres if height is not None else 0.0
        for reading in look.by_session.get(session.id, ()):
            if reading.range_m is None:
                continue
            factor = cosine_factor(offset.metres, y, reading.range_m)
            shown = "impossible" if factor is None else f"{factor:.6f}"
            yield (
                f"capture {reading.number}: x = {offset.metres:g} m, y = {y:g} m, R = "
                f"{reading.range_m:g} m: factor {shown}"
            )
    for first, second, interval_s, _ in pairs_of_one_vehicle(look):
        yield (
            f"captures {first.number} and {second.number}: {_shown(first)} at {first.range_m:g} m, "
            f"then {_shown(second)} at {second.range_m:g} m {interval_s:.2f} s later"
        )


def thresholds(look: Look) -> Iterator[str]:
    """Check 16: what is kept of each reading against what it has to reach."""
    sessions = {session.id: session for session in look.sessions}
    for reading in look.readings:
        speed, limit = reading.record.speed("speed"), reading.record.speed("limit")
        if limit is None:
            due = limit_for(look, sessions.get(reading.session or ""))
            limit = None if due is None else due[0]
        if speed is None or limit is None:
            yield f"capture {reading.number}: speed or limit missing [{reading.record.source}]"
            continue
        found = practice(speed, limit, look.rules)
        yield (
            f"capture {reading.number}: raw {speed}, limit {limit}; kept {found.kept:g} against "
            f"{found.needed:g} {found.unit}: {'reached' if found.reached else 'not reached'} "
            f"[{reading.record.source}]"
        )


def second(look: Look) -> Iterator[str]:
    """Check 12: the second speed of each pair of timed stills, with its uncertainty."""
    coverage = look.rules.value("second_speed_coverage").number
    for record in look.day.of(RecordKind.MARK):
        for reading in look.identified(record.text("capture")):
            distance, interval = record.length("distance"), record.number("interval_s")
            wide, width_s = (
                record.length("distance_uncertainty"),
                record.number("interval_uncertainty_s"),
            )
            if distance is None or not interval or interval <= 0 or distance.metres <= 0:
                continue
            if wide is None or width_s is None or reading.speed is None:
                yield f"capture {reading.number}: no uncertainty, or no speed [{record.source}]"
                continue
            unit, factor = reading.speed_unit, UNIT_MPS[reading.speed_unit]
            found = second_speed(
                distance.metres, interval, abs(wide.metres), abs(width_s), coverage
            )
            own = reading_uncertainty_mps(look, reading)
            speed, expanded = found.speed_mps / factor, found.expanded_mps / factor
            allowed = math.hypot(expanded, (own or 0.0) / factor)
            yield (
                f"capture {reading.number}: d = {distance.metres:g} m, u(d) = {wide.metres:g} m, t = "
                f"{interval:g} s, u(t) = {width_s:g} s; v = {found.speed_mps:.4f} m/s = {speed:.3f} "
                f"{unit}, U₁ = {expanded:.3f} {unit}; reading {_shown(reading)}, U₂ = "
                f"{'not known' if own is None else f'{own / factor:.3f} {unit}'}; |Δ| = "
                f"{abs(speed - reading.speed):.3f}, √(U₁² + U₂²) = {figure(allowed, 3):g} {unit} "
                f"[{record.source}]"
            )
