"""Were the stills of a session taken with one camera, the meter's? Part of check 11."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from evidpack.checks.certificate_lookup import device_of, plain
from evidpack.checks.look import Look
from evidpack.checks.saying import Say, captures, names
from evidpack.model.fields import RecordKind
from evidpack.model.findings import Finding
from evidpack.model.records import Record

_SOURCE: Final = "common practice, no source"
_WORKSHOP: Final = "The workshop can say which camera body and settings were in use."
_ORIGINAL: Final = (
    "The operator can say whether the still is as the camera wrote it, and supply the original."
)


def same_camera(look: Look, say: Say) -> Iterator[Finding]:
    """One serial, pixel size and format per session and camera; the serial is the meter's."""
    groups = _by_camera(look)
    steady = 0
    for (session, camera), stills in sorted(groups.items()):
        subject = f"session {session}" if session else "stills without a session"
        changes = (*_changes(say, subject, camera, stills), *_without_exif(say, stills))
        yield from changes
        steady += not changes
    if steady:
        yield say.passed(
            "day",
            f"Camera serial, pixel size and format are constant in {steady} of {len(groups)} "
            f"{'session' if len(groups) == 1 else 'sessions'} and cameras.",
            measured=steady,
            source=_SOURCE,
        )
    yield from _of_the_meter(look, say, groups)


def _by_camera(look: Look) -> dict[tuple[str, str], list[Record]]:
    """Stills by session and camera (its clock or counter)."""
    sessions = dict(zip(look.readings.numbers, look.readings.sessions, strict=True))
    groups: dict[tuple[str, str], list[Record]] = {}
    for still in look.day.of(RecordKind.STILL):
        session = still.text("session")
        if session is None and (number := _number(still)) is not None:
            session = sessions.get(number)
        camera = still.text("clock") or still.text("counter") or ""
        groups.setdefault((session or "", camera), []).append(still)
    return groups


def _number(still: Record) -> int | None:
    joined = still.values.get("captures")
    first = joined[0] if isinstance(joined, list) and joined else None
    return first if isinstance(first, int) else None


def _changes(say: Say, subject: str, camera: str, stills: list[Record]) -> Iterator[Finding]:
    for word, value in (
        ("camera serial", lambda one: one.text("camera_serial")),
        ("pixel size", _size),
        ("format", lambda one: one.text("format")),
    ):
        seen = {found for still in stills if (found := value(still)) is not None}
        if len(seen) > 1:
            named = f" of camera {camera}" if camera else ""
            yield say.query(
                subject,
                f"The {word} of the stills{named} in {subject} changes: {names(sorted(seen))}.",
                _WORKSHOP,
                measured=[*sorted(seen)],
                limit=1,
                source=_SOURCE,
            )


def _size(still: Record) -> str | None:
    width, height = still.integer("width_px"), still.integer("height_px")
    return None if width is None or height is None else f"{width} × {height}"


def _without_exif(say: Say, stills: list[Record]) -> Iterator[Finding]:
    """Stills that lack the serial or time which the others of their camera bear."""
    readable = [still for still in stills if still.flag("readable") is not False]
    for word, name in (("camera serial", "camera_serial"), ("time", "time")):
        bare = [still for still in readable if name not in still.values]
        if not bare or len(bare) == len(readable):
            continue
        numbers = [number for still in bare if (number := _number(still)) is not None]
        whose = captures(numbers) if numbers else "stills without a reading"
        yield say.query(
            whose,
            f"{len(bare)} of {len(readable)} stills of one camera and session bear no {word}, which "
            f"the others do: {whose}.",
            _ORIGINAL,
            measured=len(bare),
            limit=0,
            source=_SOURCE,
        )
        return


def _of_the_meter(
    look: Look, say: Say, groups: dict[tuple[str, str], list[Record]]
) -> Iterator[Finding]:
    """The serials in the stills of a session against that of its meter, or of its camera where the
    meter's record names one."""
    known = {session.id: session for session in look.sessions}
    silent = []
    for name, session in sorted(known.items()):
        serials = {
            serial
            for (of, _), stills in groups.items()
            if of == name
            for still in stills
            if (serial := still.text("camera_serial")) is not None
        }
        if not serials:
            continue
        device = device_of(look, session.meter)
        camera = device.text("camera_serial") if device is not None else None
        due = {plain(one) for one in (session.meter, camera) if one}
        others = sorted(serial for serial in serials if plain(serial) not in due)
        if not others:
            yield say.passed(
                session.subject,
                f"The stills of session {name} bear the camera serial of meter {session.meter}.",
                measured=[*sorted(serials)],
                limit=camera or session.meter,
                source=_SOURCE,
            )
        elif camera is None:
            silent.append(name)
        elif len(others) == len(serials):  # where some agree, the change is said above
            yield say.query(
                session.subject,
                f"The stills of session {name} bear the camera serial {names(others)}, but the camera "
                f"of meter {session.meter} is {camera}.",
                _WORKSHOP,
                measured=[*others],
                limit=camera,
                source=_SOURCE,
            )
    if silent:
        yield say.missing(
            "cameras",
            f"Whether the camera is that of the meter can't be told for "
            f"{'session' if len(silent) == 1 else 'sessions'} {', '.join(silent)}: the meter's record "
            "does not state the serial of its camera.",
            "The unit's records office can supply it from the meter's papers.",
            needs="camera_serial",
            measured=len(silent),
        )
