"""What a firmware brought against the one before it, in the few words of a list of news."""

from __future__ import annotations

from builder import wording
from builder.pairs.histories import Step


def step_outcome(step: Step) -> str:
    """ "6.1.0 gives 56 Mbit/s more than 6.0.4, likely 16 to 95"; "" where no unit was tested with both.

    The words of the comparison itself where it is a bound, undecided or refused.
    """
    if step.pairing is None:
        return ""
    figure = step.pairing.leading
    newer, older, interval = step.newer, step.older, figure.interval
    if figure.difference is None or interval is None or figure.verdict not in ("separated", "not-separated"):
        return figure.sentence
    decimals = figure.decimals
    if figure.verdict == "not-separated":
        needed = wording.number(figure.half_width or 0.0, decimals)
        return f"these tests cannot tell {newer} from {older}; a difference of {needed} Mbit/s or more would have shown"
    more = figure.difference > 0
    low, high = interval if more else (-interval[1], -interval[0])
    gain = wording.number(abs(figure.difference), decimals)
    return (
        f"{newer} gives {gain} Mbit/s {'more' if more else 'less'} than {older}, "
        f"likely {wording.between(low, high, decimals)}"
    )
