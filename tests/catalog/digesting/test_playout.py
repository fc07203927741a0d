"""Replays worked by hand; the stalling term against ITU-T P.1203.3."""

import math
from collections.abc import Callable

import pytest

from catalog.digesting.playout import Playout, Stall, replay, stall_weight, stalling_quality, stalling_term

Published = Callable[[str], list[dict[str, str]]]


def test_segments_in_time_never_stall() -> None:
    # By hand: 2 s segments, 4 s buffered at 1.5 s; due at 1.5, 3.5, 5.5 and 7.5 s, the last exactly on time.
    found = replay([1.0, 1.5, 3.0, 7.5], segment_s=2, start_buffer_s=4)
    assert found == Playout(start_delay_s=1.5, shown_s=8, stalls=(), late=0)


def test_a_late_segment_stalls_until_it_comes() -> None:
    # By hand: start at 1; due 1, 3, 5: the third comes at 6.5, 1.5 s late; the fourth is then due at 8.5 and
    # comes at 9, 0.5 s late.
    found = replay([1.0, 2.0, 6.5, 9.0], segment_s=2, start_buffer_s=2)
    assert found.start_delay_s == 1.0
    assert found.stalls == (Stall(media_s=4, length_s=1.5), Stall(media_s=6, length_s=0.5))
    assert found.stalled_s == 2.0
    assert found.late == 2
    assert found.shown_s == 8


def test_start_waits_for_the_whole_buffer() -> None:
    # By hand: 5 s of 2 s segments are three; an early one that comes last is waited for.
    assert replay([4.0, 1.0, 2.0, 3.0], segment_s=2, start_buffer_s=5).start_delay_s == 4.0
    assert replay([1.0, 2.0, 3.0, 9.0], segment_s=2, start_buffer_s=6.1).start_delay_s == 9.0
    assert replay([1.0, 2.0, 3.0], segment_s=0.1, start_buffer_s=0.3).start_delay_s == 3.0
    assert replay([1.0, 2.0], segment_s=2, start_buffer_s=60).start_delay_s == 2.0
    assert replay([1.0, 2.0], segment_s=2, start_buffer_s=0).start_delay_s == 1.0
    assert replay([0.0, 2.0], segment_s=2, start_buffer_s=2).start_delay_s == 0.0


def test_order_of_playing_rules_over_order_of_arrival() -> None:
    # By hand: start at 1 with the first; the second (due 3) comes at 5, the third was there long before.
    found = replay([1.0, 5.0, 2.0], segment_s=2, start_buffer_s=2)
    assert found.stalls == (Stall(media_s=2, length_s=2.0),)


def test_a_segment_that_never_came_is_a_still_picture() -> None:
    # By hand: start at 1, the second (due 3) is missing: still from 3 to 5; the third (there at 4) goes on at 5.
    found = replay([1.0, None, 4.0], segment_s=2, start_buffer_s=2)
    assert found == Playout(1.0, 4, (Stall(2, 2.0),), 1)
    # The same, but the third comes at 6: one stop of 3 s, not two.
    assert replay([1.0, None, 6.0], segment_s=2, start_buffer_s=2).stalls == (Stall(2, 3.0),)


def test_a_stream_that_broke_off_ends_in_one_stall() -> None:
    # By hand: two of five segments came; the last 6 s of the plan are still.
    found = replay([1.0, 2.0, None, None, None], segment_s=2, start_buffer_s=2)
    assert found.shown_s == 4
    assert found.stalls == (Stall(4, 6.0),)
    assert found.late == 3


def test_floating_point_does_not_stall() -> None:
    # By hand: segments of 0.1 s that come every 0.1 s, all on time, though 0.1 + 0.2 is not 0.3.
    found = replay([0.1 * (i + 1) for i in range(50)], segment_s=0.1, start_buffer_s=0.1)
    assert found.stalls == ()
    assert found.late == 0


def test_nothing_shown() -> None:
    assert replay([None, None], segment_s=2, start_buffer_s=2) == Playout(None, 0.0, (), 2)
    assert replay([], segment_s=2, start_buffer_s=2) == Playout(None, 0.0, (), 0)
    assert stalling_quality(Playout(None, 0.0, (), 2)) is None


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: replay([1.0], segment_s=0, start_buffer_s=2), "segment_s must be above 0, got 0"),
        (lambda: replay([1.0], segment_s=2, start_buffer_s=-1), "start_buffer_s must be at least 0, got -1"),
        (lambda: replay([-1.0], segment_s=2, start_buffer_s=2), "a segment cannot arrive before it was asked for"),
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
    played = Playout(1.0, 60, (Stall(30, 4.0), Stall(50, 3.0), Stall(60, 2.0)), 3)
    weighted = 4 * 0.548612691 + 3 * 0.742064395 + 2 * 1.0
    si = math.exp(-3 / 9.35158684) * math.exp(-weighted / 60 / 0.91890815) * math.exp(-15 / 60 / 11.0567558)
    assert stalling_quality(played) == pytest.approx(1 + 4 * si, abs=1e-7)


def test_two_stalls_have_one_interval() -> None:
    # Source: published row of P.1203.3: two stalls, 5 s weighted, 20 s apart, in 60 s. By hand: the second at the end
    # (weight 1) and the first 20 s before it weigh 5 s together.
    first = (5.0 - 1.0) / stall_weight(20)
    played = Playout(0.0, 60, (Stall(40, first), Stall(60, 1.0)), 2)
    assert stalling_quality(played) == pytest.approx(3.862204398, abs=1e-9)


def test_quality_without_and_with_one_stall() -> None:
    # Source: ITU-T P.1203.3: 5 without a stall; published row: one stall, 2 s weighted, in 60 s is 4.466293.
    assert stalling_quality(Playout(3.0, 60, (), 0)) == 5.0
    assert stalling_quality(Playout(0.0, 60, (Stall(60, 2.0),), 1)) == pytest.approx(4.466292929, abs=1e-9)
