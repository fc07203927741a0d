"""Replays worked by hand; the stalling term against ITU-T P.1203.3."""

import math
from collections.abc import Callable

import pytest

from catalog.digesting.playout import Playout, Stall, replay, stall_weight, stalling_quality, stalling_term

Published = Callable[[str], list[dict[str, str]]]


def played(asked, took, *, segment=2.0, buffer=2.0, planned=None, failed=()):
    came = [number not in failed for number in range(len(asked))]
    return replay(asked, took, came, planned=planned or len(asked), segment_s=segment, start_buffer_s=buffer)


def paced(took, *, every):
    """When a generator that asks every so often, and waits for each answer, asks for its segments."""
    asked, free = [], 0.0
    for number, one in enumerate(took):
        asked.append(max(number * every, free))
        free = asked[-1] + one
    return asked


def simulated():
    """What -> the figure, for each row of the published table."""
    waits = [2.457] * 450
    rounded = played([round(2.4567 * k, 3) for k in range(450)], waits, buffer=6)
    quick = played([k * 1.01 for k in range(900)], [0.005] * 900, segment=1, buffer=6)
    slow = played([2.5 * k for k in range(450)], [2.5] * 450, buffer=6)
    outage = [30.0 if k == 100 else 0.05 for k in range(300)]
    waiting = played(paced(outage, every=2.0), outage, buffer=6)
    # Who does not wait has 15 requests on the way when the line comes back.
    pending = [max(0.05, 30.0 - 2.0 * (k - 100)) if 100 <= k < 115 else 0.05 for k in range(300)]
    steady = played([2.0 * k for k in range(300)], pending, buffer=6)
    named = {
        "900 x 1 s, 5 ms each, pauses": quick,
        "450 x 2 s, 2.5 s each": slow,
        "300 x 2 s, one of 30 s, generator waits": waiting,
        "300 x 2 s, 30 s outage, generator does not wait": steady,
    }
    figures = {"450 x 2 s, 2.4567 s each, log rounded to ms: stalled s": rounded.stalled_s}
    for name, one in named.items():
        figures[f"{name}: stalls"] = len(one.stalls)
        figures[f"{name}: stalled s"] = one.stalled_s
        figures[f"{name}: start delay s"] = one.start_delay_s
    return figures


def test_published_streams(published: Published) -> None:
    # Source: tests/published/SOURCES.md, method2_playout.csv.
    figures = simulated()
    rows = published("method2_playout")
    assert {row["what"] for row in rows} == figures.keys()
    for row in rows:
        assert figures[row["what"]] == pytest.approx(float(row["expected"]), abs=float(row["tolerance"])), row


def test_idle_time_between_requests_is_not_a_stall() -> None:
    # By hand: answers of 0.04 s, asked for every 2.2 s, though 2 s of media come with each.
    result = played([2.2 * k for k in range(100)], [0.04] * 100)
    assert result == Playout(start_delay_s=0.04, shown_s=200, stalls=(), late=0, lost=0)


def test_a_late_segment_stalls_until_it_comes() -> None:
    # By hand: start at 1; the second, asked for at 2, takes 4.5 s and comes at 6.5 when 3 was due: 3.5 s late. The
    # third waited for it, is asked for at 6.5 and comes at 9: due at 6.5 + 2 = 8.5, half a second late.
    result = played([0.0, 2.0, 6.5], [1.0, 4.5, 2.5])
    assert result.start_delay_s == 1.0
    assert result.stalls == (Stall(media_s=2, length_s=3.5), Stall(media_s=4, length_s=0.5))
    assert (result.stalled_s, result.late, result.shown_s) == (4.0, 2, 6)


def test_start_waits_for_the_whole_buffer() -> None:
    # By hand: of 2 s each, three hold 5 s, and the third is there at 4 + 0.5; 6.1 s take four; 60 s are never there.
    asked, took = [0.0, 2.0, 4.0, 6.0], [0.5] * 4
    assert played(asked, took, buffer=5).start_delay_s == 4.5
    assert played(asked, took, buffer=6.1).start_delay_s == 6.5
    assert played(asked, took, buffer=60).start_delay_s == 6.5
    assert played(asked, took, buffer=0).start_delay_s == 0.5
    assert played([0.0, 0.1, 0.2], [0.0] * 3, segment=0.1, buffer=0.3).start_delay_s == pytest.approx(0.2)


def test_a_segment_that_failed_is_skipped_and_counted_as_lost() -> None:
    # By hand: start at 1; the second fails at 2.5, before it is due at 3; the third is there at 4.2, due at 3.
    result = played([0.0, 2.0, 4.0], [1.0, 0.5, 0.2], failed=[1])
    assert (result.shown_s, result.late, result.lost) == (4, 1, 1)
    assert result.stalls == (Stall(2, pytest.approx(1.2)),)
    # It fails only at 6: the player waits until then, and goes on with the third, which is there at 6.2.
    result = played([0.0, 2.0, 6.0], [1.0, 4.0, 0.2], failed=[1])
    assert result.stalls == (Stall(2, pytest.approx(3.2)),)


def test_a_stream_that_broke_off_loses_the_rest() -> None:
    # By hand: two of five segments came; nobody asked for the others.
    result = played([0.0, 2.0], [1.0, 1.0], planned=5)
    assert (result.shown_s, result.stalls, result.lost) == (4, (), 3)


def test_floating_point_does_not_stall() -> None:
    # By hand: segments of 0.1 s that come every 0.1 s, all on time, though 0.1 + 0.2 is not 0.3.
    result = played([0.1 * i for i in range(50)], [0.1] * 50, segment=0.1, buffer=0.1)
    assert (result.stalls, result.late) == ((), 0)


def test_a_generator_that_looks_20_ms_early_has_waited() -> None:
    # By hand: each takes 2.5 s; asked for 20 ms before the one before is there, it waited for it, 21 ms before, not.
    waited = played([k * 2.48 for k in range(60)], [2.5] * 60)
    assert waited.stalled_s == pytest.approx(59 * 0.5)
    early = played([k * 2.479 for k in range(60)], [2.5] * 60)
    assert early.stalls == ()


def test_nothing_shown() -> None:
    assert played([0.0, 2.0], [1.0, 1.0], failed=[0, 1]) == Playout(None, 0.0, (), 0, 2)
    assert played([], [], planned=2) == Playout(None, 0.0, (), 0, 2)
    assert stalling_quality(Playout(None, 0.0, (), 0, 2)) is None


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: played([0.0], [1.0], segment=0), "segment_s must be above 0, got 0"),
        (lambda: played([0.0], [1.0], buffer=-1), "start_buffer_s must be at least 0, got -1"),
        (lambda: played([0.0], [-1.0]), "a segment cannot arrive before it was asked for"),
        (lambda: played([0.0, 2.0], [1.0, 1.0], planned=1), "planned is 1, but 2 segments were asked for"),
        (
            lambda: stalling_term(0, weighted_s=0, mean_interval_s=0, media_s=0),
            "media_s must be above 0, got 0",
        ),
    ],
)
def test_wrong_calls_are_refused(call: Callable[[], object], message: str) -> None:
    with pytest.raises(ValueError, match=message):
        call()


def test_stalling_term_of_p_1203_3(published: Published) -> None:
    # Source: ITU-T P.1203.3, equations 29 and 31.
    for row in published("p1203_stalling"):
        found = stalling_term(
            int(row["num_stalls"]),
            weighted_s=float(row["weighted_total_stall_s"]),
            mean_interval_s=float(row["avg_stall_interval_s"]),
            media_s=float(row["T_s"]),
        )
        assert found == pytest.approx(float(row["expected_O23"]), abs=1e-9)


def test_weight_of_a_stall_by_its_distance_to_the_end(published: Published) -> None:
    # Source: ITU-T P.1203.3, w_buff.
    for row in published("p1203_stall_weight"):
        found = stall_weight(float(row["seconds_before_end"]))
        assert found == pytest.approx(float(row["expected_weight"]), abs=1e-9)


def test_quality_of_a_replayed_stream() -> None:
    # By hand from the published weights: stalls of 2 s at the end (weight 1), 4 s at 30 s (0.548612691) and 3 s at
    # 50 s (0.742064395) before 60 s of media: L = 6.4206440 s, mean interval (60 - 30) / 2 = 15 s.
    played = Playout(1.0, 60, (Stall(30, 4.0), Stall(50, 3.0), Stall(60, 2.0)), 3, 0)
    weighted = 4 * 0.548612691 + 3 * 0.742064395 + 2 * 1.0
    si = math.exp(-3 / 9.35158684) * math.exp(-weighted / 60 / 0.91890815) * math.exp(-15 / 60 / 11.0567558)
    assert stalling_quality(played) == pytest.approx(1 + 4 * si, abs=1e-7)


def test_two_stalls_have_one_interval() -> None:
    # Source: published row of P.1203.3: two stalls, 5 s weighted, 20 s apart, in 60 s. By hand: the second at the end
    # (weight 1) and the first 20 s before it weigh 5 s together.
    first = (5.0 - 1.0) / stall_weight(20)
    played = Playout(0.0, 60, (Stall(40, first), Stall(60, 1.0)), 2, 0)
    assert stalling_quality(played) == pytest.approx(3.862204398, abs=1e-9)


def test_quality_without_and_with_one_stall() -> None:
    # Source: ITU-T P.1203.3: 5 without a stall; published row: one stall, 2 s weighted, in 60 s is 4.466293.
    assert stalling_quality(Playout(3.0, 60, (), 0, 0)) == 5.0
    assert stalling_quality(Playout(0.0, 60, (Stall(60, 2.0),), 1, 0)) == pytest.approx(4.466292929, abs=1e-9)
