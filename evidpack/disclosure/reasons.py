"""The short list of reasons for a decision, each with the sentence that a pack shows.

A decision may give one of these codes or a reason in its own words (docs/disclosure.md).
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Final

REASONS: Final[Mapping[str, str]] = MappingProxyType(
    {
        "concerns-capture": "It concerns a capture in this case.",
        "concerns-session": "It concerns the session or the site of a capture in this case.",
        "concerns-device": "It concerns the meter, its tests, its clocks or its certificates.",
        "concerns-day": "It concerns the whole day.",
        "needed-to-check": "It is needed to check what is disclosed.",
        "may-assist": "It may undermine the prosecution's case or assist the defence.",
        "mixed": "It mixes data of several people; what concerns this case is revealed row by row.",
        "may-hold-others": "It may show or name other people.",
        "third-party": "It holds data of other people.",
        "other-session": "It concerns another session of the day.",
        "not-relevant": "It does not bear on this case.",
        "keeps-index-closed": "With it a reader could confirm guesses at the sealed index.",
        "names-withheld": "It is shown but for what would name something that is withheld.",
        "names-redacted": "It would name, or confirm a guess at, what is redacted.",
        "earlier-by-mistake": "It was disclosed in an earlier issue and is withdrawn.",
    }
)


def reason_sentence(reason: str) -> str:
    """The sentence of a code, or the reason itself where it is in the decider's own words."""
    return REASONS.get(reason, reason)
