"""What is proposed for a finding: by the captures, the session or the things that it is about."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Final

from evidpack.disclosure.concern import Concern
from evidpack.disclosure.named_captures import named_captures
from evidpack.disclosure.proposal import DAY_FINDING, FINDING, OTHER_SESSION, OTHERS, Proposal
from evidpack.model.findings import Outcome
from evidpack.model.values import JsonValue

_SESSION: Final = re.compile(r"session (\S+)")
_ADVERSE: Final = (Outcome.QUERY.value, Outcome.FAIL.value)


def _names_others(subject: str, concern: Concern) -> bool:
    """Whether a finding is about a file or a thing of other captures."""
    words = {word.strip(",;:()") for word in subject.split()}
    words |= {word.rpartition("/")[2] for word in words}
    return not words.isdisjoint(concern.other_names)


def is_marked(values: Mapping[str, JsonValue]) -> bool:
    """Whether a finding may undermine or assist: it says so, or it is adverse."""
    adverse = values.get("adverse") is True or values.get("outcome") in _ADVERSE
    return values.get("undermines") is True or adverse


def propose_for_finding(values: Mapping[str, JsonValue], concern: Concern) -> Proposal:
    """A proposal for a finding, or what an earlier run said, with these values."""
    subject = str(values.get("subject"))
    marked = is_marked(values)
    named = named_captures(subject)
    session = _SESSION.search(subject)
    if named:
        proposal = FINDING if named.may_be_among(concern.numbers) else OTHERS
    elif session is not None:
        proposal = FINDING if session[1] in concern.sessions else OTHER_SESSION
    elif _names_others(subject, concern):
        proposal = OTHER_SESSION
    else:
        proposal = DAY_FINDING
    if not marked:
        return proposal
    return Proposal(
        group=proposal.group,
        use="unused" if proposal.use == "not relevant" else proposal.use,
        what="release",
        reason="may-assist",
        undecided=True,
        marked=True,
    )
