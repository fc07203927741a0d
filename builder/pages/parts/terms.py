"""The terms of these pages, what each means here, and which of them each kind of page uses."""

from __future__ import annotations

from collections.abc import Mapping

from builder import addresses, wording
from builder.bench.sessions import SUSPENDED_OUTSIDE
from builder.pages.parts.blocks import Link
from catalog.figure_names import joined_id
from catalog.method import CEILING_SHARE, CONFIDENCE, MAX_GAP_DB, MIN_KNOTS, MIN_RANGE_DB

TERMS: Mapping[str, str] = {
    "attenuation": "What the way between two places takes from a signal, in dB: what a reference source sends there, "
    "less what a reference receiver reads. 10 dB more leave a tenth of the power.",
    "bound": f"A value that only says “at least”, printed with “≥”: from {wording.percent(CEILING_SHARE)} of what the "
    "client can do at most, the client was the limit and not the device. It is never averaged as if it were exact.",
    "bridge test": "Old and new client setup measured on one day at the same spots, to see whether what was measured "
    "with one may be compared with what is measured with the other.",
    "ceiling": "The highest throughput a client setup has shown in a band, width and direction; its evidence is a run.",
    "cell": "Everything that is the same for repeats: unit, firmware, client setup, link, place, day and method. Its "
    "value is the mean of its finished repeats.",
    "client setup": "Machine, adapter, driver and settings that a test is made with. Setups that a bridge test showed "
    "to be equal are one series.",
    "current firmware": "The latest public version that has results here; older ones are history.",
    "broke off": "The device crashed or gave up before the run was over. Neither zero nor missing: it is counted, and "
    "nothing is averaged over the time it lived.",
    "download and upload": "Download is from the access point to the client, upload the other way. They are never added.",
    "evenness": "Of a long run: the 5th percentile divided by the median. 1 is perfectly even.",
    "implied EIRP": "How strongly a device seems to send, as one client reads it: the level at the client plus the "
    "attenuation of the place. It compares devices read by the same client; it is no measurement of transmit power.",
    "interval": f"A range that holds the true value in {wording.mark_share(CONFIDENCE)} of such tests; a sentence says “likely”. Repeats, days, the place "
    "and the reference kit are in it; another unit, client or house is not.",
    "joined line": f"Straight lines between neighbouring measured places, none across more than "
    f"{wording.decibels(MAX_GAP_DB)} dB, and nothing beyond the last one.",
    "level": "What the client reads of the device's signal, in dBm. Two adapters may read one signal 6 dB apart.",
    "not told apart": "Not separated, as statistics say: the interval of the difference holds 0, so these tests cannot "
    "tell the two apart. The page says how large a difference would have shown. Two devices are judged by themselves; "
    "rankings and tables of several ask more of each, for the more are compared the more differ by chance (Holm).",
    "not tested": "Nobody looked, or the log is missing. It does not mean “no”, and it is no zero and no failure.",
    "on-time share": "Requests that were answered within the role's target, of those planned. Failed and never made "
    "ones count as late.",
    "PHY rate": "The most bits a radio link of a generation, with so many streams on so wide a channel, can send in a "
    "second. What arrives is always less.",
    "percentile": "Within which time so many per cent of the planned requests were answered. “Failed”: so many never "
    "were. “Thin”: fewer than five requests lie beyond it.",
    "rank": "The ranks a device may have: 2nd to 5th of 8 says that one other was shown to give more and three to give "
    "less; among the rest the tests do not say. 1st to 8th of 8 says nothing of its rank. Adjusted for how many devices "
    "are ranked: two are told apart where they stay so among the comparisons of each (Holm). It holds for that device, "
    "not for all at once.",
    "reach": "The attenuation at which the line first falls below a rate. “≥” where it never does in the tested range.",
    "role": "What one client does while others are busy: watch a picture, open pages, talk, play, fetch or send files, "
    "with a target.",
    "session": "One day on the bench with one arrangement. Days differ, so a difference within one session is surer.",
    "session factor": "What the house's reference device gave on a bench day, divided by what it gives on the others. A "
    f"value divided by it is normalised; outside {wording.between(*SUSPENDED_OUTSIDE, 2)} the day is suspended: nothing of "
    "it is normalised until someone decides.",
    "shared range": f"The attenuations that both devices were measured over without a gap; at least "
    f"{wording.decibels(MIN_RANGE_DB)} dB and {MIN_KNOTS} measured places of each, or nothing is compared.",
    "single run": "One value without a repeat: it has no interval of its own and decides nothing.",
    "spot": "A marked place in a house, with its attenuation and since when it holds. If the room changes, a new "
    "epoch begins, and results before and after are not compared at that spot.",
    "unit": "One physical piece of a device. Another one of the same model may differ.",
    "window": "A fixed range of attenuation for rankings: near, middle (about a wall or two away), far. The range in dB "
    "is what counts; how many walls lose as much differs from house to house. The figure is the mean of the joined line "
    "over it.",
    "workload": "Several clients at once, each with a role, in one fixed version.",
}

# Folder of a page's address -> the words its pages use.
WORDS_OF: Mapping[str, tuple[str, ...]] = {
    "devices": (
        "attenuation",
        "interval",
        "bound",
        "broke off",
        "evenness",
        "not tested",
        "unit",
        "window",
        "PHY rate",
        "implied EIRP",
        "session factor",
    ),
    "pairs": ("attenuation", "level", "implied EIRP", "shared range", "interval", "not told apart", "bound", "spot"),
    "rankings": ("window", "rank", "interval", "not told apart", "bound"),
    "workloads": ("workload", "role", "on-time share", "percentile", "not told apart", "broke off"),
    "collapses": ("broke off", "current firmware", "workload"),
    "repeat": ("interval", "attenuation", "level", "client setup", "spot", "session"),
    "clients": ("client setup", "ceiling", "PHY rate", "bridge test", "bound"),
    "houses": ("attenuation", "spot", "session", "session factor"),
    "reviews": ("interval", "not told apart", "unit"),
    "features": ("not tested", "current firmware"),
    "power": ("unit", "not tested"),
    "firmware": ("current firmware", "interval", "not told apart", "spot", "broke off"),
    "prices": ("window", "interval", "not tested"),
    "my-room": ("attenuation", "level", "joined line", "interval"),
    "chooser": ("shared range", "interval", "not told apart"),
}


# Fragments are never renamed: what a term was called when its fragment was made.
_FIRST_CALLED: Mapping[str, str] = {
    "broke off": "did not finish",
    "download and upload": "down and up",
    "not told apart": "not separated",
    "rank": "rank interval",
}


def term_key(term: str) -> str:
    """Fragment of a word on the glossary page."""
    return joined_id("word", _FIRST_CALLED.get(term, term).replace(" ", "-"))


def words_of(here: str) -> tuple[Link, ...]:
    """The words that the page at *here* uses, each one tap away."""
    terms = WORDS_OF.get(here.split("/")[0], ())
    return tuple(Link(term, addresses.link(here, addresses.GLOSSARY, term_key(term))) for term in terms)
