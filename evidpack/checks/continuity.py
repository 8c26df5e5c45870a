"""Are the image numbers continuous? Check 8."""

from __future__ import annotations

from collections import Counter as Counted
from collections.abc import Iterator, Mapping, Sequence
from typing import Final

from evidpack.checks.counters import Course, course_of, possible, start_of
from evidpack.checks.image_references import numbers_in_log
from evidpack.checks.intervals import Interval, contains, subtract
from evidpack.checks.look import Look
from evidpack.checks.saying import Say, names, spans
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding
from evidpack.model.records import Record

_NOTE: Final = "The operator can supply a deletion note that covers these numbers."
_UNNAMED: Final = "image"
_MANY: Final = 100  # more missing than anybody deletes or loses: rather a counter declared wrongly


def image_numbers_continuous(look: Look, say: Say) -> Iterator[Finding]:
    """Check 8: no unexplained gap, no repeat, ends as the report says."""
    numbered, unnumbered = _numbered(look)
    if not numbered and not unnumbered:
        yield say.not_applicable("day", "There are no stills on this day.")
        return
    if unnumbered:
        yield say.missing(
            "day",
            f"{_count(len(unnumbered), 'still')} of {look.still_count} bear no image number.",
            "The profile can say where the number stands (in the file name or in a column).",
            needs="image_counter",
            measured=len(unnumbered),
        )
    yield from numbers_in_log(look, say)
    yield from _repeated_identifiers(look, say)
    yield from _repeated_files(look, say)
    ends = _ends(look, numbered)
    for name in sorted(numbered):
        yield from _one_counter(look, say, name, numbered[name], ends.get(name, []))


def _count(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def image_numbers(look: Look) -> Mapping[str, list[int]]:
    """The image numbers of the stills, by counter."""
    return _numbered(look)[0]


def _numbered(look: Look) -> tuple[dict[str, list[int]], list[Record]]:
    """Image numbers by counter, and the stills without one. Where a still's name carries no
    number, that of its capture's reading counts for the first still of that capture.
    """
    numbered: dict[str, list[int]] = {}
    unnumbered: list[Record] = []
    readings = look.readings
    used: set[int] = set()
    for record in sorted(look.day.of(RecordKind.STILL), key=lambda one: one.text("path") or ""):
        number = record.integer("image_number")
        if number is None:
            joined = record.values.get("captures")
            for capture in joined if isinstance(joined, list) else ():
                place = readings.place_of(capture) if isinstance(capture, int) else None
                if isinstance(capture, int) and place is not None and capture not in used:
                    number = readings[place].record.integer("image_number")
                    used.add(capture)
                    break
        if number is None:
            unnumbered.append(record)
        else:
            numbered.setdefault(_counter_name(look, record), []).append(number)
    return numbered, unnumbered


def _counter_name(look: Look, record: Record) -> str:
    named = record.text("counter")
    if named is not None:
        return named
    declared = look.day.description.counters
    return next(iter(declared)) if len(declared) == 1 else _UNNAMED


def _one_counter(
    look: Look, say: Say, name: str, numbers: list[int], ends: Sequence[Interval]
) -> Iterator[Finding]:
    subject = f"counter {name}"
    counter = look.day.description.counters.get(name)
    course = course_of(name, counter)
    if counter is None or counter.modulus is None:
        yield say.missing(
            subject,
            f"Where counter {name} starts again is not declared, so a roll-over can't be told "
            "from a gap.",
            "The meter's handbook says how far the counter runs.",
            needs="image_counter",
        )
    inside = [number for number in numbers if possible(course, number)]
    if len(inside) != len(numbers):
        strange = sorted(set(numbers) - set(inside))
        yield say.query(
            subject,
            f"Counter {name} can't show {names(map(str, strange))}.",
            "The operator can say whether the counter is declared rightly.",
            measured=list(strange),
            limit=f"{course.first} to {course.first + (course.size or 0) - 1}",
            source="the counter as declared in day.toml",
        )
    if not inside:
        return
    repeats = sorted(number for number, count in Counted(inside).items() if count > 1)
    if repeats:
        yield say.query(
            subject,
            f"These image numbers of counter {name} occur more than once: {spans(repeats)}.",
            "The operator can say whether the counter was reset or a file copied.",
            measured=list(repeats),
            limit=0,
            source="common practice, no source",
        )
    yield from _gaps(look, say, course, sorted(set(inside)), ends)


def _gaps(
    look: Look, say: Say, course: Course, numbers: Sequence[int], ends: Sequence[Interval]
) -> Iterator[Finding]:
    subject = f"counter {course.name}"
    start = start_of(course, numbers)
    seen = sorted(course.steps(start, number) for number in numbers)
    if not ends:
        yield say.missing(
            subject,
            f"No report states the first and last number of counter {course.name}, so losses at "
            "the ends can't be told.",
            "The operator can supply the first and last image number in the day report.",
            needs="image_ends",
        )
    expected = [(seen[0], seen[-1])]
    for first, last in ends:
        low, high = course.steps(start, first), course.steps(start, last)
        if course.size is not None and low > course.size // 2:
            low -= course.size  # expected before the first that was seen
        if high < low and course.size is not None:
            high += course.size
        expected.append((low, high))
    missing = subtract(expected, [(step, step) for step in seen])
    deletions = _deletions(look, course, start)
    lost = subtract(missing, [span for span, _ in deletions])
    yield from _missing(look, say, course, start, lost)
    yield from _explained(say, course, start, seen, missing, deletions)
    if not lost:
        yield say.passed(
            subject,
            f"All image numbers of counter {course.name} from {course.number(start, seen[0])} to "
            f"{course.number(start, seen[-1])} are there" + (" or explained." if missing else "."),
            measured=len(numbers),
            rule=look.rules.value("images_missing"),
        )


def _ends(look: Look, numbered: Mapping[str, list[int]]) -> dict[str, list[Interval]]:
    """First and last number that reports expect, by counter.

    A report does not say which counter it means: it counts for the one that shows most of the
    numbers between its two.
    """
    found: dict[str, list[Interval]] = {}
    for record in look.day.of(RecordKind.REPORT):
        first, last = record.integer("image_first"), record.integer("image_last")
        if first is None or last is None or not numbered:
            continue
        inside = {
            name: _shown(look, name, numbers, first, last) for name, numbers in numbered.items()
        }
        name = max(sorted(inside), key=lambda one: inside[one])
        found.setdefault(name, []).append((first, last))
    return {name: sorted(pairs) for name, pairs in found.items()}


def _shown(look: Look, name: str, numbers: list[int], first: int, last: int) -> int:
    course = course_of(name, look.day.description.counters.get(name))
    length = course.steps(first, last)
    return sum(1 for number in numbers if 0 <= course.steps(first, number) <= length)


def _deletions(look: Look, course: Course, start: int) -> list[tuple[Interval, Record]]:
    found = []
    for record in look.day.of(RecordKind.DELETION):
        named = record.text("counter")
        first, last = record.integer("image_first"), record.integer("image_last")
        if first is None or last is None or named not in {None, course.name}:
            continue
        low = course.steps(start, first)
        high = low + (course.steps(first, last) if course.size else last - first)
        found.append(((low, max(low, high)), record))
        if course.size is not None:
            found.append(((low - course.size, max(low, high) - course.size), record))
    return sorted(found, key=lambda pair: (pair[0], pair[1].source.order))


def _missing(
    look: Look, say: Say, course: Course, start: int, lost: Sequence[Interval]
) -> Iterator[Finding]:
    if not lost:
        return
    rule = look.rules.value("images_missing")
    count = sum(high - low + 1 for low, high in lost)
    subject = f"counter {course.name}"
    verb = "is" if count == 1 else "are"
    sentence = (
        f"{_count(count, 'image number')} of counter {course.name} {verb} missing without "
        f"explanation: {course.text(start, lost)}"
    )
    if count > rule.whole:
        advice = _NOTE
        if course.size is not None and count > _MANY:
            advice += " If the counter runs less far than declared, day.toml can be put right."
        yield say.failed(subject, f"{sentence}.", advice, measured=count, rule=rule)
    else:
        yield say.query(
            subject,
            f"{sentence}, within the {rule.whole} allowed.",
            _NOTE,
            measured=count,
            rule=rule,
        )


def _explained(
    say: Say,
    course: Course,
    start: int,
    seen: Sequence[int],
    missing: Sequence[Interval],
    deletions: Sequence[tuple[Interval, Record]],
) -> Iterator[Finding]:
    subject = f"counter {course.name}"
    for (low, high), record in deletions:
        hit = [(max(low, a), min(high, b)) for a, b in missing if a <= high and b >= low]
        if hit:
            yield say.passed(
                subject,
                f"Missing image numbers {course.text(start, hit)} of counter {course.name} are "
                f"explained by a deletion note: {record.text('reason') or 'no reason given'}.",
                measured=sum(b - a + 1 for a, b in hit),
                source=str(record.source),
                undermines=True,
            )
        present = [step for step in seen if contains((low, high), step)]
        if present:
            yield say.query(
                subject,
                f"A deletion note covers image numbers that are there: "
                f"{spans(course.number(start, step) for step in present)}.",
                "The person who wrote the note can correct it.",
                measured=len(present),
                source=str(record.source),
            )


def _repeated_identifiers(look: Look, say: Say) -> Iterator[Finding]:
    found: dict[str, dict[str, str]] = {}
    for record in look.day.of(RecordKind.STILL):
        identifier, path = record.text("image_unique_id"), record.text("path") or ""
        if identifier is not None:  # the same file twice is told as such, by its digest
            found.setdefault(identifier, {}).setdefault(record.text("sha256") or path, path)
    same = sorted(path for group in found.values() if len(group) > 1 for path in group.values())
    twice = len(same)
    if twice:
        yield say.query(
            "day",
            f"{twice} stills share their unique image identifier with another: "
            f"{names(same, listed=6)}.",
            "The operator can say whether an image was copied.",
            measured=twice,
            limit=0,
            source="EXIF ImageUniqueID 0xA420 (Exif standard, from memory)",
        )


def _repeated_files(look: Look, say: Say) -> Iterator[Finding]:
    """Stills that are the same file under several names, by their digests."""
    found: dict[str, list[str]] = {}
    for record in look.day.of(RecordKind.STILL):
        digest = record.text("sha256")
        if digest is not None:
            found.setdefault(digest, []).append(record.text("path") or "")
    same = sorted(path for paths in found.values() if len(paths) > 1 for path in paths)
    if same:
        yield say.query(
            "day",
            f"{len(same)} stills are byte for byte the same as another: {names(same, listed=6)}.",
            "The operator can say whether an image was copied.",
            measured=len(same),
            limit=0,
            source="SHA-256 of the files (FIPS 180-4)",
        )
