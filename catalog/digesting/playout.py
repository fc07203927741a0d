"""What a viewer saw of a stream: a replay of its segments, and the stalling term of ITU-T P.1203.3.

Times are seconds; nothing here rounds.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

# Below the resolution of any log: in floating point 0.3 / 0.1 is a hair off 3, and must not stall a picture.
_NO_TIME_S = 1e-9


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
    late           segments that came after they were due, or never. [1]
    """

    start_delay_s: float | None
    shown_s: float
    stalls: tuple[Stall, ...]
    late: int

    @property
    def stalled_s(self) -> float:
        return math.fsum(stall.length_s for stall in self.stalls)


def replay(arrival_s: Sequence[float | None], *, segment_s: float, start_buffer_s: float) -> Playout:
    """Play segments in order, each as soon as it is due and has arrived.

    Playback starts once start_buffer_s of media have arrived, or all there is. A segment that is not there
    when the one before it ends stalls playback until it comes. One that never came cannot be waited for: the
    picture stands still for its length and goes on behind it. Stalls that touch are one.

    arrival_s       shape (n,), when each segment was complete, in playing order, counted from the first
                    request; None: it never came. [s]
    segment_s       media in one segment, above 0. [s]
    start_buffer_s  media to collect before the start, at least 0. [s]
    Raises          ValueError for a length not above 0, a negative buffer or a negative arrival.
    Source          method section 6; the treatment of a segment that never came is an own rule.
    """
    if not segment_s > 0:
        raise ValueError(f"segment_s must be above 0, got {segment_s}")
    if start_buffer_s < 0:
        raise ValueError(f"start_buffer_s must be at least 0, got {start_buffer_s}")
    arrived = [at for at in arrival_s if at is not None]
    if any(at < 0 for at in arrived):
        raise ValueError(f"a segment cannot arrive before it was asked for, got {min(arrived)} s")
    if not arrived:
        return Playout(None, 0.0, (), len(arrival_s))

    needed = max(1, math.ceil(start_buffer_s / segment_s - _NO_TIME_S))
    start_s = max(arrived[:needed])
    shown, late, waited_s = 0, 0, 0.0
    stalls: list[Stall] = []
    for at in arrival_s:
        due_s = start_s + waited_s + shown * segment_s
        wait_s = segment_s if at is None else at - due_s
        if wait_s > _NO_TIME_S:
            late += 1
            waited_s += wait_s
            media_s = shown * segment_s
            touching_s = stalls.pop().length_s if stalls and stalls[-1].media_s == media_s else 0.0
            stalls.append(Stall(media_s, touching_s + wait_s))
        shown += at is not None
    return Playout(start_s, shown * segment_s, tuple(stalls), late)


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
