"""What a viewer saw of a stream: a replay of its segments, and the stalling term of ITU-T P.1203.3.

Times are seconds; nothing here rounds.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

# Below the resolution of any log: in floating point 0.3 / 0.1 is a hair off 3, and must not stall a picture.
_NO_TIME_S = 1e-9

WAITED_WITHIN_S = 0.02
"""A request made up to so long before the answer to the one before it has waited for that answer. [s]"""


@dataclass(frozen=True)
class Stall:
    """One stop of the picture.

    media_s   how much had been shown when it stopped. [s]
    length_s  how long it stood still. [s]
    """

    media_s: float
    length_s: float


@dataclass(frozen=True)
class Playout:
    """A stream as it was shown.

    start_delay_s  from the first request to the first picture; None: nothing was ever shown. [s]
    shown_s        media shown. [s]
    stalls         in order of time; a stall at shown_s is one the stream ended in
    late           segments that came after they were due. [1]
    lost           segments that failed or were never asked for: what they held was skipped. [1]
    """

    start_delay_s: float | None
    shown_s: float
    stalls: tuple[Stall, ...]
    late: int
    lost: int

    @property
    def stalled_s(self) -> float:
        return math.fsum(stall.length_s for stall in self.stalls)


def replay(
    asked_s: Sequence[float],
    took_s: Sequence[float],
    came: Sequence[bool],
    *,
    planned: int,
    segment_s: float,
    start_buffer_s: float,
    slack_s: float = WAITED_WITHIN_S,
) -> Playout:
    """Play segments in order, as if each had been asked for as soon as a player could ask.

    Segment k is asked for at k times its length. Where the log shows that the client waited for the previous segment,
    it is asked for when that one has arrived, if that is later. Its transfer time is the logged one. So idle time
    between requests is not a stall, and waiting for the network is.

    Playback starts once start_buffer_s of media have arrived, or all there is. A segment that is not there when the one
    before it ends stalls playback until it has come or failed; one that failed is skipped. Stalls that touch are one.

    asked_s         shape (n,), when each segment was asked for, in playing order. [s]
    took_s          shape (n,), how long until it was complete or failed, at least 0. [s]
    came            shape (n,), whether it was complete
    planned         segments the plan asked for, at least n; those beyond the log are lost. [1]
    segment_s       media in one segment, above 0. [s]
    start_buffer_s  media to collect before the start, at least 0. [s]
    slack_s         a client that asks less than this before the previous segment is complete has waited for it. [s]
    Raises          ValueError for a length not above 0, a negative buffer or time, or planned < n.
    Source          method section 6.
    """
    if not segment_s > 0:
        raise ValueError(f"segment_s must be above 0, got {segment_s}")
    if start_buffer_s < 0:
        raise ValueError(f"start_buffer_s must be at least 0, got {start_buffer_s}")
    if any(took < 0 for took in took_s):
        raise ValueError(f"a segment cannot arrive before it was asked for, got {min(took_s)} s")
    if planned < len(asked_s):
        raise ValueError(f"planned is {planned}, but {len(asked_s)} segments were asked for")
    lost = planned - sum(came)
    ended_s = _ended(asked_s, took_s, segment_s=segment_s, slack_s=slack_s)
    arrived_s = [at for at, there in zip(ended_s, came, strict=True) if there]
    if not arrived_s:
        return Playout(None, 0.0, (), 0, lost)

    needed = max(1, math.ceil(start_buffer_s / segment_s - _NO_TIME_S))
    start_s = max(arrived_s[:needed])
    shown, late, waited_s = 0, 0, 0.0
    stalls: list[Stall] = []
    for at_s, there in zip(ended_s, came, strict=True):
        wait_s = at_s - (start_s + waited_s + shown * segment_s)
        if wait_s > _NO_TIME_S:
            late += there
            waited_s += wait_s
            media_s = shown * segment_s
            touching_s = stalls.pop().length_s if stalls and stalls[-1].media_s == media_s else 0.0
            stalls.append(Stall(media_s, touching_s + wait_s))
        shown += there
    return Playout(start_s, shown * segment_s, tuple(stalls), late, lost)


def _ended(asked_s: Sequence[float], took_s: Sequence[float], *, segment_s: float, slack_s: float) -> list[float]:
    """When each segment is complete or failed in the replay, from the first request. [s]"""
    ended_s: list[float] = []
    for k, (asked, took) in enumerate(zip(asked_s, took_s, strict=True)):
        ask_s = k * segment_s
        if k and asked >= asked_s[k - 1] + took_s[k - 1] - slack_s - _NO_TIME_S:
            ask_s = max(ask_s, ended_s[-1])
        ended_s.append(ask_s + took)
    return ended_s


# Coefficients of ITU-T P.1203.3, equations 29 and 31 and the weight of a stall by its distance to the end.
_C_COUNT, _C_LENGTH, _C_INTERVAL = 9.35158684, 0.91890815, 11.0567558
_C_FLOOR, _C_HALVING_S = 0.48412879, 10.0


def stall_weight(seconds_before_end: float) -> float:
    """How much a stall so long before the end still counts: 1 at the end, towards 0.484 far before it. [1]

    seconds_before_end  media shown after the stall, at least 0. [s]
    Source              ITU-T P.1203.3, w_buff.
    """
    return _C_FLOOR + (1 - _C_FLOOR) * math.exp(seconds_before_end * math.log(0.5) / _C_HALVING_S)


def stalling_term(count: int, *, weighted_s: float, mean_interval_s: float, media_s: float) -> float:
    """Stalling quality O.23, 5 without a stall, towards 1 with many, long, or widely spread ones. [1]

    count            stalls. [1]
    weighted_s       their lengths, each times its `stall_weight`, added. [s]
    mean_interval_s  mean media time from one stall to the next; 0 for fewer than two. [s]
    media_s          media without stalls, above 0. [s]
    Raises           ValueError for media_s not above 0.
    Source           ITU-T P.1203.3, equations 29 and 31.
    """
    if not media_s > 0:
        raise ValueError(f"media_s must be above 0, got {media_s}")
    si = (
        math.exp(-count / _C_COUNT)
        * math.exp(-(weighted_s / media_s) / _C_LENGTH)
        * math.exp(-(mean_interval_s / media_s) / _C_INTERVAL)
    )
    return 1 + 4 * si


def stalling_quality(playout: Playout) -> float | None:
    """`stalling_term` of a replayed stream; None where nothing was shown.

    Only this one term of P.1203: the start delay is reported beside it and picture quality is not judged.

    Source  ITU-T P.1203.3, equations 29 and 31; a mean interval by the media shown between first and last.
    """
    if playout.shown_s == 0:
        return None
    stalls = playout.stalls
    weighted_s = math.fsum(s.length_s * stall_weight(playout.shown_s - s.media_s) for s in stalls)
    apart_s = stalls[-1].media_s - stalls[0].media_s if stalls else 0.0
    return stalling_term(
        len(stalls),
        weighted_s=weighted_s,
        mean_interval_s=apart_s / (len(stalls) - 1) if len(stalls) > 1 else 0.0,
        media_s=playout.shown_s,
    )
