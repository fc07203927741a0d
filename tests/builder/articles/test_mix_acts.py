"""A correction, a withdrawal or an embargo of a run with several clients reaches the sentences that quote it."""

from datetime import UTC, datetime, timedelta
from functools import partial

import pytest

from builder.publishing.changing.touched import REFUSED, said_by_articles, touched
from builder.publishing.making.entry_check import REMARK, foresee
from catalog.entering import check_batch, enter_batch
from tests.batches import EMBARGO, article, batch_at, batch_toml
from tests.builder.articles.conftest import bound_to, evidence_at, sentences
from tests.builder.articles.evening import DAYS, NOW, A, B, C, Evening, usual

TEXT = f"""It (= brokeoff {C}, workload evening =).

In time were (= share {A}, workload evening, role call, mix a-1 =).

(= claim {A} copes better {B}, workload evening, role call : It holds calls =).

It (= coped {B}, workload evening =).
"""


@pytest.fixture
def path(tmp_path):
    """A catalogue with three devices and an article on their runs."""
    bench = usual("b-1", B, 60, bench=usual("a-1", A, 3))
    bench.run(
        "c-1", C, [("call", "lap-2", [5] * 190)], outcome="did not finish", ended_at_s=380, ended_by="power cycle"
    )
    path = bench.entered(tmp_path)
    text = batch_toml("texts", article=[article("words", "words.md", published="2025-06-01T10:00:00Z")])
    enter_batch(batch_at(tmp_path / "texts", text, {"words.md": TEXT}), into=path, now=NOW)
    return path


def differing(path, act):
    """What an act on the catalogue leaves to redo: (line, was, now)."""
    before = said_by_articles(path, as_of=NOW)
    act()
    plain = [(one.line, one.was, one.now) for one in touched(before, said_by_articles(path, as_of=NOW))]
    return [(line, was.replace("\u00a0", " "), now.replace("\u00a0", " ")) for line, was, now in plain]


def withdraw(path, what, name):
    batch = batch_toml(f"taken-{what}")
    table = f"what,id,from,reason\n{what},{name},2026-05-01,wrong box\n"
    enter_batch(
        batch_at(path.parent / f"taken-{what}", batch, {"withdrawals.csv": table}),
        into=path,
        now=NOW + timedelta(days=1),
    )


def test_a_corrected_end_is_listed(path, correct):
    line = "stations,batch=evening; file=stations.csv; row=8,ended_at_s,380,400,misread,a reader,2026-05-01"
    assert differing(path, lambda: correct(path, line)) == [
        (
            1,
            "broke off after 6:20 of 10:00 (power cycle)",
            "broke off after 6:40 of 10:00 (power cycle)",
        )
    ]


def test_a_corrected_place_takes_the_claim_away(path, correct):
    line = "stations,batch=evening; file=stations.csv; row=6,attenuation_db,60,75,misread,a reader,2026-05-01"
    ((number, was, now),) = differing(path, lambda: correct(path, line))
    assert (number, was) == (5, "It holds calls")
    assert now.startswith(REFUSED)
    assert "Lap 2 stood at 60 dB on Cupola and at 75 dB on Gable" in now


def test_a_withdrawn_mix_takes_its_sentences_away(path):
    rest = differing(path, lambda: withdraw(path, "mix", "a-1"))
    assert [(line, was) for line, was, _ in rest] == [
        (3, "99.0 % in time (297 of 300 within 100 ms)"),
        (5, "It holds calls"),
    ]
    assert all(now.startswith(REFUSED) for _, _, now in rest)
    assert "Mix a-1 was withdrawn on 1 May 2026: wrong box. It cannot be quoted." in rest[0][2]
    assert "never did evening" in rest[1][2]


def test_a_withdrawn_client_cannot_be_named(path):
    withdraw(path, "client", "lap-2")
    typed = f"(= share {A}, workload evening, role call, client lap-2 =)"
    (problem,) = sentences(bound_to(evidence_at(path), typed))
    assert "Client lap-2 was withdrawn on 1 May 2026: wrong box. It cannot be quoted." in problem


def test_hidden_until_the_instant(tmp_path):
    bench = usual("b-1", B, 60, bench=usual("a-1", A, 3))
    path = bench.entered(tmp_path, devices={A: {"embargo": EMBARGO | {"until": "2026-06-10T09:00"}}})
    # 09:00 in New York in June is 13:00 UTC.
    before, at = datetime(2026, 6, 10, 12, 59, 59, tzinfo=UTC), datetime(2026, 6, 10, 13, tzinfo=UTC)
    for typed in (
        f"share {A}, workload evening, role call",
        f"coped {A}, workload evening",
        f"claim {B} copes better {A}, workload evening, role film : x",
    ):
        (problem,) = sentences(bound_to(evidence_at(path, before), f"(= {typed} =)"))
        assert "There is no device 'tessarik-cupola'" in problem
        assert "Whatever is unknown, hidden or withdrawn" in problem
    assert sentences(bound_to(evidence_at(path, at), f"(= share {A}, workload evening, role call =)")) == []


def test_a_second_run_makes_the_author_name_one(path):
    """New results never change what is quoted: a sentence that was clear is refused once there are two runs."""
    text = f"(= share {B}, workload evening, role call =)"
    assert sentences(bound_to(evidence_at(path), text)) == []
    more = usual("b-2", B, 0, bench=Evening(first=100), day=DAYS[1])
    more.added(path.parent, path)
    (problem,) = sentences(bound_to(evidence_at(path), text))
    assert "so one must be named: on 2025-05-12; on 2025-05-20." in problem


def test_check_reads_them_with_the_runs_of_their_own_batch(tmp_path):
    text = f"""It had (= share {A}, workload evening, role call =).

(= waits {A}, workload evening, role pages, at 99 =)

(= mix {A}, workload evening : Who waited? =)

Of the calls 99 % came.
"""
    place = usual("a-1", A, 3).written(tmp_path, {"a.md": text}, article=[article("x", "a.md", devices=[A])])
    report = check_batch(place, catalog=None, foresee=partial(foresee, now=NOW))
    (problem,) = map(str, report.problems)
    assert problem.startswith("a.md line 3: (= waits tessarik-cupola, ")
    assert "fewer than five lie beyond the 99th percentile" in problem
    (warning,) = (str(warning) for warning in report.warnings if warning.code == REMARK)
    assert (
        "“99 %” is typed. Bound to the catalogue it would be (= share tessarik-cupola, workload evening, role call =)."
        in warning
    )
