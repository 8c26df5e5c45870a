from __future__ import annotations

from array import array
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from evidpack.intake.captures import join_captures
from evidpack.intake.numbering import Spans
from evidpack.intake.profile import CaptureSpec
from evidpack.model.fields import RecordKind
from evidpack.model.records import Record, Source
from evidpack.model.tables import NO_INSTANT, RecordTable, instant_of
from evidpack.model.values import JsonValue

START = datetime(2026, 5, 14, 9, 0, tzinfo=UTC)
IDENTIFIER = CaptureSpec(join="identifier", within_s=None)
FILE_NAME = CaptureSpec(join="file-name", within_s=None)
NEAREST = CaptureSpec(join="nearest-time", within_s=2.0)


def _at(seconds: float) -> str:
    return (START + timedelta(seconds=seconds)).isoformat()


def _reading(
    line: int, seconds: float, *, path: str = "export/r.csv", **values: JsonValue
) -> Record:
    return Record(
        kind=RecordKind.READING,
        source=Source(path=path, line=line),
        values={"time": _at(seconds), **values},
    )


def _picture(name: str, *, kind: RecordKind = RecordKind.STILL, **values: JsonValue) -> Record:
    path = f"export/stills/{name}"
    return Record(kind=kind, source=Source(path=path), values={"path": path, **values})


def _session(name: str, start: float, end: float) -> Record:
    return Record(
        kind=RecordKind.SESSION,
        source=Source(path="office/day.toml", line=1),
        values={"id": name, "start": _at(start), "end": _at(end)},
    )


def _number(capture: Record) -> int:
    return capture.integer("number") or 0


def _joined(pictures: list[Record]) -> list[tuple[JsonValue, JsonValue]]:
    return [(one.values["joined"], one.values["captures"]) for one in pictures]


def test_captures_are_numbered_by_reading_time_not_by_row() -> None:
    captures, _ = join_captures([_reading(2, 30), _reading(3, 10)], [], [], None)
    assert [(one.values["number"], one.source.line) for one in captures] == [(2, 2), (1, 3)]
    assert captures[0].values["stills"] == captures[0].values["clips"] == []
    assert "how" not in captures[0].values


def test_a_shared_identifier_joins_all_pictures_of_a_capture() -> None:
    readings = [_reading(2, 0, capture="C1"), _reading(3, 9, capture="C2")]
    pictures = [
        _picture("b.jpg", capture="C1"),
        _picture("a.jpg", capture="C1"),
        _picture("c.mp4", capture="C2", kind=RecordKind.CLIP),
    ]
    captures, joined = join_captures(readings, [], pictures, IDENTIFIER)
    assert captures[0].values["stills"] == ["export/stills/a.jpg", "export/stills/b.jpg"]
    assert captures[1].values["clips"] == ["export/stills/c.mp4"]
    assert captures[0].values["how"] == "identifier"
    assert _joined(joined) == [("yes", [1]), ("yes", [1]), ("yes", [2])]


def test_an_identifier_in_the_picture_itself_joins_too() -> None:
    _, joined = join_captures(
        [_reading(2, 0, capture="ab12")],
        [],
        [_picture("x.jpg", image_unique_id="ab12")],
        IDENTIFIER,
    )
    assert _joined(joined) == [("yes", [1])]


@pytest.mark.parametrize("capture", ["C9", "c1", "C1 ", None])
def test_a_picture_that_no_reading_claims_is_unmatched(capture: str | None) -> None:
    values: dict[str, JsonValue] = {} if capture is None else {"capture": capture}
    captures, joined = join_captures(
        [_reading(2, 0, capture="C1")], [], [_picture("x.jpg", **values)], IDENTIFIER
    )
    assert _joined(joined) == [("unmatched", [])]
    assert captures[0].values["stills"] == []


def test_two_readings_with_one_identifier_are_both_shown() -> None:
    readings = [_reading(2, 0, capture="C1"), _reading(3, 9, capture="C1")]
    captures, joined = join_captures(readings, [], [_picture("x.jpg", capture="C1")], IDENTIFIER)
    assert _joined(joined) == [("doubly matched", [1, 2])]
    assert [one.values["stills"] for one in captures] == [["export/stills/x.jpg"]] * 2


def test_a_session_in_the_name_tells_equal_identifiers_apart() -> None:
    readings = [_reading(2, 0, capture="C1"), _reading(3, 100, capture="C1")]
    sessions = [_session("S1", -10, 50), _session("S2", 60, 200)]
    _, joined = join_captures(
        readings, sessions, [_picture("x.jpg", capture="C1", session="S2")], IDENTIFIER
    )
    assert _joined(joined) == [("yes", [2])]


def test_the_session_is_that_exported_else_the_one_whose_time_it_was() -> None:
    readings = [_reading(2, 0), _reading(3, 1, session="S9"), _reading(4, 55), _reading(5, 500)]
    sessions = [_session("S1", -10, 60), _session("S2", 50, 200)]
    captures, _ = join_captures(readings, sessions, [], None)
    assert [(one.values.get("session"), one.values.get("session_how")) for one in captures] == [
        ("S1", "by time"),
        ("S9", "exported"),
        (None, None),  # inside two sessions
        (None, None),  # inside none
    ]


def test_a_time_that_is_not_determined_is_in_no_session() -> None:
    odd: JsonValue = {"local": "2026-05-14T09:00:00", "status": "no zone", "instants": []}
    reading = Record(kind=RecordKind.READING, source=Source(path="r", line=2), values={"time": odd})
    captures, joined = join_captures(
        [reading], [_session("S1", -9999, 9999)], [_picture("x.jpg", time=_at(0))], NEAREST
    )
    assert "session" not in captures[0].values
    assert _joined(joined) == [("unmatched", [])]


def test_an_image_number_in_the_name_finds_the_reading_that_has_it() -> None:
    readings = [_reading(2, 0, image_number=7), _reading(3, 9, image_number=8)]
    captures, joined = join_captures(
        readings,
        [],
        [_picture("IMG0008.jpg", image_number=8), _picture("y", image_number=9)],
        FILE_NAME,
    )
    assert _joined(joined) == [("yes", [2]), ("unmatched", [])]
    assert captures[1].values["how"] == "file name"


def test_one_file_per_capture_is_called_by_its_own_name() -> None:
    readings = [
        _reading(1, 0, path="export/cap/K01.json"),
        _reading(1, 9, path="export/cap/K02.json"),
    ]
    _, joined = join_captures(
        readings, [], [_picture("k02.JPG"), _picture("z.jpg", capture="K01")], FILE_NAME
    )
    assert _joined(joined) == [("yes", [2]), ("yes", [1])]


@pytest.mark.parametrize(
    ("seconds", "expected"),
    [(9.0, ("yes", [1])), (12.0, ("yes", [1])), (12.000001, ("unmatched", [])),
     (10.5, ("yes", [1])), (11.5, ("doubly matched", [1, 2])), (11.6, ("yes", [2]))],
)  # fmt: skip
def test_the_nearest_time_within_the_bound_is_taken_and_a_tie_shown(
    seconds: float, expected: tuple[str, list[int]]
) -> None:
    readings = [_reading(2, 10), _reading(3, 13)] if 2 in expected[1] else [_reading(2, 10)]
    captures, joined = join_captures(readings, [], [_picture("x", time=_at(seconds))], NEAREST)
    assert _joined(joined) == [expected]
    how = [one.values["number"] for one in captures if one.values.get("how")]
    assert how == expected[1]
    assert {one.values.get("how") for one in captures} <= {None, "nearest time, inferred"}


def test_clips_of_a_session_and_clips_of_which_nothing_is_declared() -> None:
    clips = [
        _picture("s.mp4", kind=RecordKind.CLIP, session="S1"),
        _picture("t.mp4", kind=RecordKind.CLIP, session="S7"),
        _picture("u.mp4", kind=RecordKind.CLIP),
        _picture("v.mp4", kind=RecordKind.CLIP, capture="C7"),
    ]
    for spec in (IDENTIFIER, NEAREST):
        _, joined = join_captures([_reading(2, 0)], [_session("S1", -9, 9)], clips, spec)
        assert [one.values["joined"] for one in joined] == [
            "session",
            "unmatched",
            "not declared",
            "unmatched",
        ]
    _, joined = join_captures([], [], clips, None)
    assert {one.values["joined"] for one in joined} == {"not declared"}


_seconds = st.lists(st.integers(0, 40).map(lambda half: half / 2), max_size=8)


@given(_seconds, _seconds, st.randoms(use_true_random=False))
def test_the_order_of_rows_and_files_changes_nothing(
    readings: list[float], stills: list[float], random: object
) -> None:
    rows = [_reading(number, at) for number, at in enumerate(readings, start=2)]
    shots = [_picture(f"{number}.jpg", time=_at(at)) for number, at in enumerate(stills)]
    first, first_joined = join_captures(rows, [], shots, NEAREST)
    random.shuffle(rows)  # type: ignore[attr-defined]
    random.shuffle(shots)  # type: ignore[attr-defined]
    second, second_joined = join_captures(rows, [], shots, NEAREST)
    assert sorted(first, key=_number) == sorted(second, key=_number)

    def by_path(record: Record) -> str:
        return record.source.path

    assert sorted(first_joined, key=by_path) == sorted(second_joined, key=by_path)


@given(_seconds, _seconds)
def test_nearest_time_agrees_with_looking_at_every_pair(
    readings: list[float], stills: list[float]
) -> None:
    ordered = sorted(readings)
    rows = [_reading(number, at) for number, at in enumerate(ordered, start=2)]
    shots = [_picture(f"{number}.jpg", time=_at(at)) for number, at in enumerate(stills)]
    _, joined = join_captures(rows, [], shots, NEAREST)
    for at, still in zip(stills, joined, strict=True):
        near = [abs(at - other) for other in ordered]
        least = min(near, default=99)
        slow = [number for number, far in enumerate(near, start=1) if far == least <= 2]
        assert still.values["captures"] == slow


_spans = st.lists(st.tuples(st.integers(0, 8), st.integers(0, 8)), max_size=5)


@given(_spans, st.lists(st.one_of(st.none(), st.integers(-1, 9)), max_size=20))
def test_the_session_of_a_time_is_the_only_one_in_which_it_lies(
    spans: list[tuple[int, int]], times: list[int | None]
) -> None:
    sessions = [_session(f"S{place}", *span) for place, span in enumerate(spans)]
    instants = [NO_INSTANT if at is None else instant_of(_at(at)) for at in times]
    expected = []
    for at in times:
        inside = [f"S{n}" for n, (a, b) in enumerate(spans) if at is not None and a <= at <= b]
        expected.append(inside[0] if len(inside) == 1 else None)
    assert Spans(sessions).sessions_at(instants) == expected


@given(_seconds, _seconds, st.sampled_from([NEAREST, FILE_NAME, IDENTIFIER, None]))
def test_readings_in_columns_make_the_same_captures(
    readings: list[float], stills: list[float], spec: CaptureSpec | None
) -> None:
    rows = [
        _reading(number, at, capture=f"C{number % 3}", image_number=number % 4)
        for number, at in enumerate(readings, start=2)
    ]
    shots = [
        _picture(f"{number}.jpg", time=_at(at), capture=f"C{number}", session="S1")
        for number, at in enumerate(stills)
    ]
    columns = {
        name: [one.values[name] for one in rows] for name in ("time", "capture", "image_number")
    }
    table = RecordTable(
        kind=RecordKind.READING,
        path="export/r.csv",
        lines=array("q", [one.source.line or 0 for one in rows]),
        columns=columns,
        instants={"time": [instant_of(time) for time in columns["time"]]},
    )
    sessions = [_session("S1", 0, 7), _session("S2", 5, 12)]
    captures, joined = join_captures(table, sessions, shots, spec)
    assert (list(captures), joined) == join_captures_one_by_one(rows, sessions, shots, spec)


def join_captures_one_by_one(
    rows: list[Record], sessions: list[Record], shots: list[Record], spec: CaptureSpec | None
) -> tuple[list[Record], list[Record]]:
    captures, joined = join_captures(rows, sessions, shots, spec)
    assert not isinstance(captures, RecordTable)
    return list(captures), joined
