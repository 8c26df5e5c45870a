"""The clock is set back while a day is sealed or checked."""

from __future__ import annotations

import json
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from functools import partial
from http.server import BaseHTTPRequestHandler, HTTPServer
from pathlib import Path

import pytest

from evidpack.container import layout
from evidpack.trust.authority import demo_time_stamp
from tests.bundles import taken_apart
from tests.cli.running import Run, runner
from tests.faults.running import run
from tests.faults.stepping_clock import step_back
from tests.faults.world import BUNDLE, World


@pytest.mark.parametrize("seconds", [1, 3_600, 400 * 86_400])
def test_a_clock_set_back_amid_a_seal_changes_nothing(world: World, seconds: float) -> None:
    target = world.target()
    begun = datetime.now(UTC).replace(microsecond=0)
    ended = world.seal(target, first=partial(step_back, seconds))
    assert ended.code == 0, ended.words
    assert world.whole(target / BUNDLE)
    _, members = taken_apart((target / BUNDLE).read_bytes())
    claimed = json.loads(members[layout.STATEMENT])["claimed_time"]
    assert begun <= datetime.fromisoformat(claimed) <= datetime.now(UTC)
    world.require_untouched()


@contextmanager
def authority_at(world: World, moment: datetime) -> Iterator[str]:
    """The demonstration time-stamp authority, whose clock says this."""

    class Answering(BaseHTTPRequestHandler):
        def do_POST(self) -> None:
            asked = self.rfile.read(int(self.headers["Content-Length"]))
            answer = demo_time_stamp(asked, authority=world.authority, now=moment)
            self.send_response(200)
            self.send_header("Content-Type", "application/timestamp-reply")
            self.send_header("Content-Length", str(len(answer)))
            self.end_headers()
            self.wfile.write(answer)

        def log_message(self, format: str, *args: object) -> None:  # noqa: A002
            del format, args

    server = HTTPServer(("127.0.0.1", 0), Answering)
    thread = threading.Thread(target=server.serve_forever, daemon=True)
    thread.start()
    try:
        yield f"http://127.0.0.1:{server.server_port}/"
    finally:
        server.shutdown()
        thread.join()
        server.server_close()


@pytest.fixture
def here(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs a command in this process: with a server's thread about, nothing is forked."""
    return runner(monkeypatch, capsys)


@pytest.mark.parametrize(("ahead_s", "code"), [(-5, 0), (600, 2)])
def test_a_clock_ahead_of_the_time_stamp_stops_the_seal_and_says_so(
    world: World, here: Run, ahead_s: int, code: int
) -> None:
    """What is left of a step back: the claimed time lies after the authority's."""
    target = world.target()
    moment = datetime.now(UTC).replace(microsecond=0) - timedelta(seconds=ahead_s)
    with authority_at(world, moment) as url:
        ended = here("seal", world.day, *world.signing(), "--tsa", url, "-o", target / BUNDLE)
    assert ended.code == code, ended.words
    if code == 0:
        assert world.whole(target / BUNDLE)
    else:
        assert "claimed sealing time is after the time stamp" in ended.words
        assert "what to do:" in ended.err
        assert list(target.iterdir()) == []
    world.require_untouched()


def test_runs_stay_chained_when_the_clock_goes_back_between_them(
    world: World, tmp_path: Path
) -> None:
    from tests.small_day import write_small_day

    day = write_small_day(tmp_path / "day")
    assert run("check", day).code == 1
    ended = run("check", day, first=lambda: _all_times_earlier(86_400))
    assert ended.code == 1, ended.words
    first, second = map(json.loads, (day.parent / "runs.jsonl").read_bytes().splitlines())
    assert datetime.fromisoformat(second["at"]) < datetime.fromisoformat(first["at"])
    assert (first["run"], second["run"]) == (1, 2)
    target = world.target()
    sealed = run("seal", day, *world.signing(), "--no-time-stamp", "-o", target / BUNDLE)
    assert sealed.code == 0, sealed.words
    assert world.whole(target / BUNDLE)


def _all_times_earlier(seconds: float) -> None:
    step_back(seconds)
    from evidpack.cli import check

    check.datetime.now(UTC)  # the first time asked, which is not set back yet
