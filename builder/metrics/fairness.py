"""How evenly several clients with equal offered load were served."""

from collections.abc import Sequence


def jain_index(rates: Sequence[float]) -> float | None:
    """Jain's index: (sum of x)^2 / (n * sum of x^2); 1 for equal shares, k/n when k of n share alike. [1]

    rates    shape (n,), n at least 1, each at least 0, any one unit; a client that got nothing is a 0. [any]
    Returns  None where every share is 0: there was no traffic to share.
    Raises   ValueError for no client or a negative rate.
    Source   Jain, Chiu & Hawe, DEC-TR-301, 1984.
    """
    if not rates:
        raise ValueError("fairness needs at least one client")
    if min(rates) < 0:
        raise ValueError(f"a rate must be at least 0, got {min(rates)}")
    highest = max(rates)
    if highest == 0:
        return None
    # Relative to the highest, so that squares neither over- nor underflow.
    shares = [rate / highest for rate in rates]
    return sum(shares) ** 2 / (len(shares) * sum(share * share for share in shares))
