"""Adverse findings followed through the run log: which runs had them, and which are gone."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from evidpack.intake.run_history import RunHistory, SaidFinding, changes
from evidpack.model.fields import RecordKind
from evidpack.model.records import Source


def said(name: str) -> SaidFinding:
    return SaidFinding(check="10", subject=f"capture {name}", outcome="query", sentence=name)


def told(*runs: set[str]) -> RunHistory:
    """A history of runs that had these findings, by the changes that a log would hold."""
    history, before = RunHistory(), list[SaidFinding]()
    for number, names in enumerate(runs, 1):
        now = [said(name) for name in sorted(names)]
        new, gone = changes(before, now)
        history.tell(number, Source(path="office/runs.jsonl", line=number), new=new, gone=gone)
        before = now
    return history


def runs_of(history: RunHistory) -> dict[str, object]:
    return {str(one.values["sentence"]): one.values["runs"] for one in history.records()}


def test_a_finding_is_recorded_once_with_every_run_that_had_it() -> None:
    history = told({"a", "b"}, {"b"}, {"a", "b", "c"}, set())
    assert runs_of(history) == {"a": [1, 3], "b": [1, 2, 3], "c": [3]}
    assert history.standing == ()


def test_a_record_stands_at_the_line_where_it_was_first_said() -> None:
    records = list(told({"a"}, {"a", "b", "c"}).records())
    assert {one.kind for one in records} == {RecordKind.PAST_FINDING}
    assert [(one.source.line, one.source.place) for one in records] == [(1, 0), (2, 0), (2, 1)]


def test_what_is_gone_without_having_been_there_is_passed_over() -> None:
    history = RunHistory()
    history.tell(1, Source(path="x", line=1), new=[said("a")], gone=[said("z")])
    assert history.standing == (said("a"),)


@given(st.lists(st.sets(st.sampled_from("abcdef")), max_size=8))
def test_the_changes_alone_give_back_what_each_run_had(runs: list[set[str]]) -> None:
    history = told(*runs)
    expected = {
        name: [number for number, had in enumerate(runs, 1) if name in had]
        for name in set().union(*runs)
    }
    assert runs_of(history) == expected
    assert {one.sentence for one in history.standing} == (runs[-1] if runs else set())
