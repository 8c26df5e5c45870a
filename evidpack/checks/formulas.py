"""What each check computes, in words and signs, and the rule-set keys that it reads.

docs/checks.md says the same at more length; `explain` prints these lines above the numbers.
"""

from __future__ import annotations

from typing import Final

FORMULAS: Final[dict[str, tuple[str, ...]]] = {
    "1": (
        (
            "serial, type and firmware of certificate = those of the meter; case, spaces and hyphens "
            "are ignored, zeros never"
        ),
        "meter named by readings and tests = meter of the session",
    ),
    "2": (
        (
            "calibrated ≤ first date of session, last date of session ≤ calibrated + interval (months; "
            "or the end that the certificate states, where earlier)"
        ),
        "no repair, broken tamper seal or change of firmware between calibration and session",
    ),
    "2b": (
        (
            "guard band w = factor × U; upper side: pass e ≤ TH − w, conditional pass e ≤ TH, "
            "conditional fail e ≤ TH + w, fail beyond; lower side alike with −e and −TL; the worse counts"
        ),
    ),
    "2c": ("the as-found error of the next calibration, decided as in 2b",),
    "3": ("holder = operator, type = type of meter, valid from ≤ session ≤ valid until",),
    "4": (
        (
            "each required test passed on or before the first and on or after the last reading, on the "
            "reconciled line; the last of several tests on one side counts"
        ),
    ),
    "5": ("|measured − surveyed| ≤ tolerance",),
    "6": (
        (
            "offset o = clock − reference; |o| + U ≤ limit is a pass, |o| − U > limit a fail, between a "
            "query"
        ),
        "drift = (o₂ − o₁)/(t₂ − t₁), least squares for more; times the period against the limit",
    ),
    "7": (
        "UTC = recorded − offset, the offset interpolated between clock checks",
        (
            "slack = √(U₁² + U₂²) + coarser resolution (one clock: resolution alone); less than that "
            "apart is not determinable"
        ),
    ),
    "8": (
        (
            "expected numbers (from first to last of the report, over the roll-over) − numbers seen − "
            "numbers that deletion notes cover = missing"
        ),
    ),
    "9": ("rate = 1/median step; longest step ≤ periods × median step; frame numbers without gap",),
    "10": (
        "range and speed inside the window of the approval, else of the rule set",
        "slope b = Σ(t − t̄)(r − r̄)/Σ(t − t̄)², s² = Σe²/(n − 2), u(b) = s/√Σ(t − t̄)²",
        (
            "||b| − shown| ≤ one display step + k·u(b); a reset against the median slope ≥ the step "
            "fails; a linear sweep of the aim can't be told from speed"
        ),
        "range shown within those of the pulses ± (one display step + distance tolerance)",
    ),
    "11": (
        "strip field = record to the coarser of both display steps",
        "|still − reading| ≤ limit + slack on the reconciled line",
        "camera serial, size and format constant, EXIF in all stills or none; serial = the meter's",
        (
            "thumbnail: correlation of both pictures' details (grey, at most 80 × 80, less their "
            "blurred copies; 1 is the same picture) ≥ limit"
        ),
    ),
    "12": ("v = d/t, (u(v)/v)² = (u(d)/d)² + (u(t)/t)², U = k·u(v); |v − reading| ≤ √(U₁² + U₂²)",),
    "13": ("vehicles in the beam ≤ allowed, cross-hair on the target, as a reviewer says",),
    "14": (
        "indicated = v·√(1 − (x² + y²)/R²), shown and never added back",
        "distance between two readings of one vehicle within what speeds and acceleration allow",
    ),
    "15": (
        "site on record, authorised on the dates, limit = order in force, else site",
        "0 ≤ session − signs seen ≤ limit in days, signs not found missing from then on",
        "great-circle distance of set-up and readings from the site ≤ limit; direction = the site's",
    ),
    "16": (
        (
            "kept = reading − deduction (fixed up to a speed, a share rounded up above); threshold = "
            "limit × (1 + share) + fixed; only what the rule set names"
        ),
    ),
    "17": ("every field that the rule set asks for is there; one version",),
    "18": (
        "files described = files; each still, clip and identifier belongs to one reading",
        "captures counted by the report = captures; each row read; what rows and papers name is there",
        "each line of the run log = SHA-256 of the one before; findings gone since = superseded",
    ),
    "19": ("text, metadata, EXIF and thumbnails are gone from the released copy",),
    "20": (
        (
            "notice: offence + days; post: business days after posting; driver: service + days − 1; "
            "proceedings: offence + months; hearing papers: hearing − days"
        ),
    ),
}

KEYS_READ: Final[dict[str, tuple[str, ...]]] = {
    "2": ("calibration_interval",),
    "2b": (
        "certificate_fields",
        "guard_band_factor",
        "speed_tolerance_low",
        "speed_tolerance_high",
    ),
    "2c": ("guard_band_factor", "speed_tolerance_low", "speed_tolerance_high"),
    "3": ("operator_interval",),
    "4": ("tests_before", "tests_after", "tests_scope", "clock_check_uncertainty"),
    "5": ("distance_tolerance",),
    "6": (
        "clock_offset_limit",
        "clock_period",
        "clock_check_uncertainty",
        "clock_pattern_width",
    ),
    "7": ("clock_check_uncertainty", "typed_time_resolution"),
    "8": ("images_missing",),
    "9": ("frame_rate_min", "frame_gap_periods"),
    "10": (
        "range_min",
        "range_max",
        "speed_min",
        "speed_max",
        "pulse_coverage",
        "pulse_noise_limit",
        "sawtooth_step",
        "distance_tolerance",
    ),
    "11": ("still_time_limit", "thumbnail_correlation_min"),
    "12": ("second_speed_coverage", "reading_uncertainty"),
    "13": ("vehicles_in_beam",),
    "14": ("range_chain_window", "range_chain_acceleration", "range_chain_length"),
    "15": ("signs_seen_days", "site_distance_limit"),
    "16": (
        "deduction_fixed",
        "deduction_share",
        "deduction_share_from",
        "threshold_share",
        "threshold_fixed",
        "deduction_and_threshold",
    ),
    "17": ("report_fields",),
    "18": ("discarded_window",),
    "20": (
        "deadline_zone",
        "holiday_country",
        "notice_days",
        "post_business_days",
        "information_days",
        "proceedings_months",
        "copy_days",
        "counter_notice_days",
        "initial_details_days",
        "retention_months",
    ),
}
