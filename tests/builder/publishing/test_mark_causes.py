"""Marks that changed are the cause of what a role comes to, and the batch that set them is named."""

import html
from datetime import UTC, datetime, timedelta

import pytest

from builder.publishing.changing.changes import changes_since
from tests.batches import batch_at, batch_toml
from tests.builder.publishing.publishing_bench import Bench
from tests.evenings import DEFAULTS, FILM, PLAYED, enter, evening, superseding

DAY = datetime(2025, 9, 20, 12, tzinfo=UTC)
LATER = DAY + timedelta(days=1)
HIDDEN = {"until": "2025-09-25T00:00:00Z", "covers": "existence"}


@pytest.fixture
def bench(tmp_path, chart_cache):
    """An evening that was published, and a version of a workload that defines its own role, played once."""
    path = tmp_path / "evening.db"
    enter(evening(tmp_path, site={"title": "The bench"}), path)
    own = {"id": "desk", "title": "Desk", "duration_s": 900, "version": 1, "role": [FILM]}
    at_desk = {"stations": {**DEFAULTS["stations"], "workload": "desk", "workload_version": 1}}
    enter(evening(tmp_path, "desk", PLAYED[:1], "mix-2", 3, role=[], workload=[own], defaults=at_desk), path)
    made = Bench(path, tmp_path / "bench", chart_cache)
    made.publish(DAY)
    return made


def changed(bench, as_of=LATER):
    return changes_since(bench.catalog, bench.site, as_of=as_of)


def told(changes):
    return {change.figure: change.causes for change in changes.figures}


def test_stricter_marks_are_named_with_their_batch(bench, tmp_path):
    bench.enter(superseding(tmp_path, "stricter", target_ms=100))
    changes = changed(bench)
    assert changes.without_cause == []
    why = ("the marks of the role film, set by batch stricter (A bench)",)
    assert told(changes) == {"role~mix-1~lap-1~film": why, "role~mix-1~lap-2~film": why}
    (first, _) = changes.figures
    # By hand: 19 of 100 answers within 200 ms, 9 within 100 ms.
    assert "19.0 %" in first.was
    assert "9.0 %" in first.now
    bench.publish(LATER)
    page = html.unescape((bench.site / "changes" / "index.html").read_text(encoding="utf-8")).replace("\xa0", " ")
    assert "Did what is asked of a role change?" in page
    assert "95.0 % of the planned requests within 100 ms; good: 95.0 % within 40.0 ms" in page
    assert told(changed(bench, LATER + timedelta(hours=1))) == {}


def test_a_newer_version_sets_the_marks_of_the_older_one(bench, tmp_path):
    role = FILM | {"target_ms": 100}
    newer = {"id": "desk", "title": "Desk", "duration_s": 900, "version": 2, "role": [role]}
    bench.enter(batch_at(tmp_path / "newer", batch_toml("newer", workload=[newer])))
    changes = changed(bench)
    assert changes.without_cause == []
    assert told(changes) == {
        "role~mix-2~lap-1~film": ("the marks of the role film of desk, set by batch newer (A bench)",)
    }


def test_marks_of_a_hidden_batch_come_with_the_end_of_its_embargo(bench, tmp_path):
    role = {"id": "film", "supersedes": True, "target_ms": 100}
    bench.enter(batch_at(tmp_path / "secret", batch_toml("secret", role=[role], embargo=HIDDEN)))
    assert told(changed(bench)) == {}
    bench.publish(LATER)
    after = changed(bench, datetime(2025, 9, 26, tzinfo=UTC))
    assert after.without_cause == []
    assert {causes[0][:24] for causes in told(after).values()} == {"the marks of the role fi"}


def test_a_corrected_mark_is_told_as_a_correction(bench):
    bench.correct("role,id=film,target_ms,200,300,mistyped,a reader,2025-08-30")
    changes = changed(bench)
    assert changes.without_cause == []
    assert set(told(changes).values()) == {("target_ms corrected on 2025-08-30: was 200, now 300 (mistyped)",)}


def test_marks_that_were_put_in_by_hand_are_nobodys_doing(bench):
    bench.sql("UPDATE role_declaration SET said = json_set(said, '$.target_ms', 100.0) WHERE role_id = 'film'")
    bench.sql("UPDATE role SET target_ms = 100 WHERE role_id = 'film'")
    assert changed(bench).unexplained == ["role film"]
