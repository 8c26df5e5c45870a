"""The statutory clocks of a stated edition. Check 20.

Every date here follows from a rule set that says which law of which edition it takes as an
example; a local lawyer has to confirm it.  Events are named in docs/checks.md.
"""

from __future__ import annotations

import io
import pkgutil
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, date, tzinfo
from functools import lru_cache
from typing import Any, Final
from zoneinfo import ZoneInfo

from evidpack.checks.business_days import business_days_after
from evidpack.checks.look import Look
from evidpack.checks.saying import Say, captures
from evidpack.checks.times import add_days, add_months, local_date, read_date, read_moment
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding
from evidpack.model.records import Record
from evidpack.rules.rule_values import RuleValue

_CONFIRM: Final = (
    "A lawyer has to confirm the date; the office can supply the dates of what was done."
)
_KEYS: Final = ("notice_days", "information_days", "proceedings_months", "retention_months")


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """Captures of one offence date with the events that concern them: event name → date."""

    numbers: tuple[int, ...]
    offence: date
    events: Mapping[str, date]
    details: Mapping[str, str]

    @property
    def subject(self) -> str:
        """The captures, by number."""
        return captures(self.numbers)


@lru_cache(maxsize=8)
def _zone(name: str) -> tzinfo:
    """An IANA zone from the package tzdata alone, never from the machine's own files."""
    if name == "UTC":
        return UTC
    data = pkgutil.get_data("tzdata", f"zoneinfo/{name}")
    return ZoneInfo.from_file(io.BytesIO(data or b""), key=name)


def statutory_clocks(look: Look, say: Say) -> Iterator[Finding]:
    """Check 20: notice, driver information, proceedings, hearing papers, retention."""
    if not any(look.rules.find(key) for key in _KEYS):
        yield say.not_applicable(
            "day", f"Rule set {look.rules.name} {look.rules.edition} names no statutory clock."
        )
        return
    for case in cases(look):
        for part in (_notice, _information, _proceedings, _hearing, _retention):
            yield from part(look, say, case)


def cases(look: Look) -> tuple[Case, ...]:
    """Captures grouped by offence date and events, in order of their first number."""
    named = look.rules.find("deadline_zone")
    zone = _zone(named.text if named is not None else look.day.description.zone)
    own: dict[str, list[Record]] = {}
    for record in look.day.of(RecordKind.EVENT):
        own.setdefault(record.text("capture") or "", []).append(record)
    groups: dict[tuple[date, tuple[int, ...]], list[int]] = {}
    events: dict[tuple[int, ...], list[Record]] = {}
    readings = look.readings
    names = readings.column("capture") or [None] * len(readings)
    for number, at_s, name in zip(readings.numbers, readings.at_s, names, strict=True):
        offence = None if at_s is None else local_date(at_s, zone)
        if offence is None:
            continue  # check 6 says that its time names no instant
        found = own.get("", []) + own.get(str(name or " "), [])
        key = tuple(sorted(id(record) for record in found))
        events[key] = found
        groups.setdefault((offence, key), []).append(number)
    made = []
    for (offence, key), group in groups.items():
        dates, details = _dates(events[key], zone)
        numbers = tuple(group)
        made.append(Case(numbers=numbers, offence=offence, events=dates, details=details))
    return tuple(sorted(made, key=lambda one: one.numbers))


def _dates(records: list[Record], zone: tzinfo) -> tuple[dict[str, date], dict[str, str]]:
    """The earliest date of each event, and what was noted with it."""
    dates: dict[str, date] = {}
    details: dict[str, str] = {}
    for record in records:
        name = event_name(record.text("event") or "")
        day = read_date(record.values.get("date"))
        moment = read_moment(record.values.get("time"))
        if day is None and moment is not None and moment.at_s is not None:
            day = local_date(moment.at_s, zone)
        if day is not None and (name not in dates or day < dates[name]):
            dates[name] = day
            details[name] = (record.text("detail") or "").casefold()
    return dates, details


def event_name(text: str) -> str:
    """``Notice-Posted`` as ``notice posted``."""
    return " ".join(text.casefold().replace("-", " ").replace("_", " ").split())


def notice_due(offence: date, days: int) -> date:
    """The last day to serve the notice: the day of the offence is not counted, so 2 March and
    14 days make 16 March.
    """
    return add_days(offence, days)


def information_due(served: date, days: int) -> date:
    """The last day to name the driver: the day of service is counted."""
    return add_days(served, days - 1)


def _today(look: Look) -> date:
    named = look.rules.find("deadline_zone")
    zone = _zone(named.text if named is not None else look.day.description.zone)
    return look.day.now.astimezone(zone).date()


def _notice(look: Look, say: Say, case: Case) -> Iterator[Finding]:
    rule = look.rules.find("notice_days")
    if rule is None:
        return
    if "accident" in case.events:
        yield say.not_applicable(
            case.subject, "No notice is due after an accident, by this rule set."
        )
        return
    due = notice_due(case.offence, rule.whole)
    served, how = case.events.get("notice served"), "was served"
    posted = case.events.get("notice posted")
    if served is None and posted is not None:
        post = look.rules.find("post_business_days")
        if post is None or "first" not in case.details.get("notice posted", ""):
            yield say.query(
                case.subject,
                f"The notice for {case.subject} was posted on {posted} by a class of post for which "
                f"no service is presumed; it is due by {due}.",
                _CONFIRM,
                measured=posted.isoformat(),
                rule=rule,
                limit=due.isoformat(),
                unit="date",
            )
            return
        region = look.rules.find("holiday_country")
        served = business_days_after(posted, post.whole, None if region is None else region.text)
        how = f"was posted first class on {posted} and is presumed served"
    yield _by(look, say, case, rule, "The notice", how, served, due)


def _by(
    look: Look,
    say: Say,
    case: Case,
    rule: RuleValue,
    what: str,
    how: str,
    done: date | None,
    due: date,
) -> Finding:
    """In time, late, or not on record with the days left."""
    left = (due - _today(look)).days
    if done is None and left >= 0:
        return say.missing(
            case.subject,
            f"{what} for {case.subject} is due by {due}, {left} days from now; nothing is on "
            "record yet.",
            _CONFIRM,
            needs="events",
            measured=left,
            rule=rule,
            limit=due.isoformat(),
            unit="days left",
        )
    told: dict[str, Any] = {"rule": rule, "limit": due.isoformat(), "unit": "date"}
    if done is None:
        sentence = f"{what} for {case.subject} was due by {due}, {-left} days ago, and nothing is on record."
        return say.query(case.subject, sentence, _CONFIRM, **told)
    sentence = f"{what} for {case.subject} {how} on {done}, "
    measured = done.isoformat()
    if done <= due:
        return say.passed(case.subject, f"{sentence}in time for {due}.", measured=measured, **told)
    late = f"{sentence}{(done - due).days} days after {due}."
    return say.failed(case.subject, late, _CONFIRM, measured=measured, **told)


def _information(look: Look, say: Say, case: Case) -> Iterator[Finding]:
    rule, asked = look.rules.find("information_days"), case.events.get("information requested")
    if rule is None or asked is None:
        return
    due = information_due(asked, rule.whole)
    answered = case.events.get("information received")
    yield _by(look, say, case, rule, "The driver's name", "was given", answered, due)


def _proceedings(look: Look, say: Say, case: Case) -> Iterator[Finding]:
    rule = look.rules.find("proceedings_months")
    if rule is None:
        return
    due = add_months(case.offence, rule.whole)
    begun = case.events.get("proceedings started")
    yield _by(look, say, case, rule, "The start of proceedings", "was", begun, due)


def _hearing(look: Look, say: Say, case: Case) -> Iterator[Finding]:
    hearing = case.events.get("hearing")
    if hearing is None:
        return
    for key, event, what, optional in (
        ("copy_days", "copy served", "The copy of record and certificate", False),
        ("counter_notice_days", "counter notice", "The counter-notice", True),
        ("initial_details_days", "initial details given", "The initial details", False),
    ):
        rule = look.rules.find(key)
        done = case.events.get(event)
        if rule is None or (optional and done is None):
            continue
        due = add_days(hearing, -rule.whole)
        yield _by(
            look,
            say,
            case,
            rule,
            what,
            "was served" if "served" in event else "was given",
            done,
            due,
        )


def _retention(look: Look, say: Say, case: Case) -> Iterator[Finding]:
    rule, convicted = look.rules.find("retention_months"), case.events.get("conviction")
    if rule is None or convicted is None:
        return
    until = add_months(convicted, rule.whole)
    released = case.events.get("released from custody")
    until = until if released is None else max(until, released)
    destroyed = case.events.get("material destroyed")
    measured = None if destroyed is None else destroyed.isoformat()
    if destroyed is not None and destroyed < until:
        yield say.failed(
            case.subject,
            f"Material about {case.subject} was destroyed on {destroyed}, before {until}.",
            _CONFIRM,
            measured=measured,
            rule=rule,
            limit=until.isoformat(),
            unit="date",
        )
    else:
        yield say.passed(
            case.subject,
            f"Material about {case.subject} is to be kept until {until} at least.",
            measured=measured,
            rule=rule,
            limit=until.isoformat(),
            unit="date",
        )
