"""A first decisions.toml: every sealed entry, with a proposed decision."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Final

from evidpack.disclosure.concern import find_concern
from evidpack.disclosure.decisions import FORMAT, UNDECIDED, close_line, format_ranges
from evidpack.disclosure.describing import describe
from evidpack.disclosure.proposal import Proposal
from evidpack.disclosure.proposals import propose_all
from evidpack.disclosure.reasons import REASONS
from evidpack.disclosure.sealed_bundle import SealedBundle, SealedEntry
from evidpack.intake.toml_text import quoted

_HEAD: Final = """\
# What is to be disclosed, to whom. Every sealed entry stands in here exactly once: by itself in
# [[entry]], or together with others in [[class]]. To decide an entry of a class by itself, take its
# number out of the class and give it an [[entry]] of its own.
#
# use       "relied on", "unused", "not relevant"
# decision  "release", "redact", "withhold", "inspect" (to be viewed by appointment)
# reason    one of the codes below, or your own words
#
# A pack is made only when nothing is "undecided" any more. "what" is for you and goes nowhere;
# "description" goes into the pack (left out, it is made from what is released). With "redact" in a
# record, close = ["plate"] keeps fields closed; in a still, add for example:
#   [[redact]]
#   entry = 12
#   boxes = [[40, 60, 220, 90]]          # x, y, width, height in pixels
#   polygons = [[[10, 10], [80, 10], [40, 70]]]
#   reason = "third-party"
# Sensitive material: decision = "withhold", sensitive = true, sensitive_reason = "…". It goes to a
# schedule of its own for the prosecutor; in the pack it looks like any other withheld entry.
#
# Codes of reasons:
"""
_UNDECIDED: Final = """\
# a person must decide: it may undermine or assist, may hold others, or is neither about the case
# nor about others"""


def draft_decisions(bundle: SealedBundle, captures: Sequence[str]) -> str:
    """The text of a decisions.toml for these captures, given by identifier or number.

    Raises UsageError for a capture that the day does not have.
    """
    concern = find_concern(bundle, captures)
    proposals = propose_all(bundle, concern)
    groups: dict[str, list[int]] = {}
    singles: list[int] = []
    for number, proposal in proposals.items():
        if _alone(proposal):
            singles.append(number)
        else:
            groups.setdefault(proposal.group, []).append(number)
    parts = [_HEAD, *(f"#   {code:<20} {text}\n" for code, text in REASONS.items())]
    parts.append(_case(bundle, captures))
    for name, numbers in groups.items():
        parts.append(_class(name, numbers, proposals[numbers[0]]))
    parts.extend(_entry(bundle.entry(number), proposals[number]) for number in singles)
    return "".join(parts)


def _alone(proposal: Proposal) -> bool:
    """What is decided by itself: the case's own material, what is marked, what is closed in part."""
    return proposal.marked or proposal.alone or bool(proposal.close)


def _case(bundle: SealedBundle, captures: Iterable[str]) -> str:
    listed = ", ".join(quoted(capture) for capture in captures)
    return (
        f'\nformat = "{FORMAT}"\n\n[pack]\n'
        f"day = {quoted(bundle.statement.day)}\n"
        f"statement = {quoted(bundle.statement_sha256.hex())}\n"
        f"captures = [{listed}]\n"
        'case = ""          # the number or name of the case\n'
        'recipient = ""     # who gets the pack\n'
        'decided_by = ""    # who decided\n'
        'decided_at = ""    # when, with offset: 2026-06-01T10:00:00+01:00\n'
    )


def _class(name: str, numbers: list[int], proposal: Proposal) -> str:
    return (
        f"\n[[class]]\nclass = {quoted(name)}\nentries = {quoted(format_ranges(numbers))}\n"
        + _shared(proposal)
    )


def _entry(entry: SealedEntry, proposal: Proposal) -> str:
    marked = '\nmarked = "may undermine or assist"' if proposal.marked else ""
    what = quoted(describe(entry.kind, entry.values, whole_paths=True))
    return f"\n[[entry]]\nentry = {entry.number}\nwhat = {what}{marked}\n" + _shared(proposal)


def _shared(proposal: Proposal) -> str:
    lines = []
    if proposal.undecided:
        lines.append(_UNDECIDED)
        lines.append(f'use = "{UNDECIDED}"')
        lines.append(f'decision = "{UNDECIDED}"')
        lines.append(f'proposed = "{proposal.what}, {proposal.use}"')
    else:
        lines.append(f"use = {quoted(proposal.use)}")
        lines.append(f"decision = {quoted(proposal.what)}")
    if proposal.close:
        lines.append(f"{close_line(proposal.close)}  # names what another entry withholds")
    lines.append(f"reason = {quoted(proposal.reason)}")
    if proposal.description is not None:
        lines.append(f"description = {quoted(proposal.description)}")
    return "\n".join(lines) + "\n"
