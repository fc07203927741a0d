"""Short reviews, and the script of a film. No number is typed: the site binds each one to the catalogue, and tests the
claims."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Article:
    """One review and where it belongs."""

    batch: str
    id: str
    title: str
    published: str
    devices: tuple[str, ...]
    text: str


ARTICLES = (
    Article(
        "2024-04-rondel-6-again",
        "rondel-6-review",
        "Rondel 6: a third band, and an honest middle",
        "2024-04-22T10:00:00+02:00",
        ("polmerre-rondel-6", "quillmast-lantern"),
        """\
Polmerre sent us the Rondel 6 on loan, and in November it hung under the ceiling of our brick house. It is the
first device on this bench with a radio in the third band, and the first where we had to walk the spots twice
because a second kit reads that band.

![The one wired socket of the Rondel 6](../images/polmerre-rondel-6-ports.png)

## What it is like to live with

The cover snaps onto a metal plate, and one cable does everything. There is no fan and nothing to hear. The
plate grows warm under load, more than the cover does; whoever mounts it in a closed ceiling void should look
at the heat table below before closing the panel.

## What we measured, and where it surprised us

(= under client wrenlet-u2, band 5, width 80, direction down, protocol tcp =)

In the same room the laptop sets the pace: a chart of near spots says more about the client than about the
device. The differences should begin one wall away. There we expected a newer device to pull ahead of our old
reference device on the two-stream laptop, and with firmware (= firmware polmerre-rondel-6@6.0.4 =)
(= claim polmerre-rondel-6@6.0.4 alike quillmast-lantern : it did not =).
(= verdict polmerre-rondel-6@6.0.4 quillmast-lantern =)

(= lines polmerre-rondel-6@6.0.4 quillmast-lantern : Does the Rondel 6 pull ahead of our old reference? =)

We told the maker, who asked us to wait for a new firmware. In spring we measured again, on one day, with both,
and bought a second unit. Over all places (= claim polmerre-rondel-6@6.1.0 leads
polmerre-rondel-6@6.0.4 : the new firmware is quicker =), by
(= difference polmerre-rondel-6@6.1.0 polmerre-rondel-6@6.0.4 =). Three hundred megabits a second were left at
(= reach polmerre-rondel-6@6.0.4, rate 300 =) with the first and are left at
(= reach polmerre-rondel-6@6.1.0, rate 300 =) with the second.

Our older USB adapter deserves a word. Near the device it meets its own limit, and so every result there is a
bound and not a value. Please do not read it as a tie.

## Calls beside a backup

With a backup running, the new firmware
(= coped polmerre-rondel-6@6.1.0, workload calls-over-backup =). The call at the window was
(= share polmerre-rondel-6@6.1.0, workload calls-over-backup, role call-window =); nineteen of twenty packets
waited at most (= waits polmerre-rondel-6@6.1.0, workload calls-over-backup, role call-window, at 95 =).

(= mix polmerre-rondel-6@6.1.0, workload calls-over-backup : Who waits while a backup runs? =)

The runs of the other devices are in the role table, and the recipe is beside it for whoever wants to repeat it at
home.

## What we cannot say

We had two units, in one house, with our clients; the page of the device says whether the two agree.
""",
    ),
    Article(
        "2024-06-cupola",
        "cupola-review",
        "Cupola: wide channels, and what is left of them behind walls",
        "2024-06-24T09:30:00+02:00",
        ("tessarik-cupola", "polmerre-rondel-4"),
        """\
The Cupola is the first device here with the newest amendment on both ends of the link. We bought it, together
with a laptop that can use it, and let the reference devices of both houses meet that laptop first, so that the
years before do not fall out of the comparison.

![The case of the Cupola as it was tested](../images/tessarik-cupola-case.png)

## In the same room

(= under client wrenlet-b2, direction down, protocol tcp =)

The widest channel in the third band is as quick as its numbers promise, as long as one can see the device:
(= value tessarik-cupola, spot S1, band 6, width 320 =).
This is also the first device on the bench whose wired port never was the limit; on several others the port
ends the contest before the radio does, and the tables say so.

## Behind the chimney

A wide channel spreads the same power over more spectrum. At the far spots of the bungalow the widest channel
gives its advantage back, and at the last one it is a thin thread of
(= value tessarik-cupola, spot S8, band 6, width 320 =). The narrower channel one band below still carries
(= value tessarik-cupola, spot S8, band 5, width 80 =) there.

Whether it is worth the change? Against the Rondel 4 and with the four-stream card of the desktop tower
(= claim tessarik-cupola leads polmerre-rondel-4, client wrenlet-r4, band 5, width 160 : it clearly is =): in the
same place the Cupola gives more than the Rondel 4, by
(= difference tessarik-cupola polmerre-rondel-4, client wrenlet-r4, band 5, width 160 =). Few of us carry a tower
from room to room. With the two-stream laptop, which is more like what people hold, much less is left of it:
(= difference tessarik-cupola polmerre-rondel-4, client wrenlet-u2, band 5, width 80 =). To that laptop the Rondel 4
had given, at the fifth spot and as we wrote in the week of the test,
(= value polmerre-rondel-4, spot S5, client wrenlet-u2, band 5, width 80, frozen "638 Mbit/s" 2024-06-24 =).

(= lines tessarik-cupola polmerre-rondel-4, client wrenlet-r4, band 5, width 160 =)

## Warmth and appetite

The plate behind the cover is hot after an hour of load. It also wants a stronger supply class than most
switches in a house offer; the table of power shows what it took at the supply.

## One house, one unit

We measured one unit in the timber house. The brick house is kinder to some bands and harder on others.
""",
    ),
    Article(
        "2025-06-full-house",
        "second-link-note",
        "What the second link brings, and what a quiet radio costs",
        "2025-07-01T09:00:00+02:00",
        ("tessarik-cupola",),
        """\
A reader asked whether the second link of the Cupola is worth anything, or only a line on the box. So we stood in the
same places with the same laptop, switched one link off, then on again, and last turned the power down.

(= under client wrenlet-b2, direction down, protocol tcp =)

Behind the chimney: (= verdict tessarik-cupola+links-on tessarik-cupola+links-off, spot S6, band 5 =) In the hall:
(= verdict tessarik-cupola+links-on tessarik-cupola+links-off, spot S2, band 5 =)

And the power? (= verdict tessarik-cupola tessarik-cupola+low-power, spot S6, band 5 =) Where one sees the device it is
another matter, and a year lies between the two days: (= verdict tessarik-cupola tessarik-cupola+low-power, spot S2,
band 5 =)
""",
    ),
    Article(
        "2026-03-full-house",
        "full-house-review",
        "A full house: who gets their evening, and who waits for it",
        "2026-03-10T09:00:00+01:00",
        ("tessarik-cupola", "tessarik-plinth", "veltrisk-tarn", "fjeldrun-skerry", "hollendry-bobbin"),
        """\
A laptop alone in the house shows how fast a device can be. It does not show how the evening goes. So since last
summer every device gets a full house: one of us talks and reads at the same time, one plays, one watches the
sharpest film we have, one sends the clips of the holiday away, and the old till in the kitchen shows a small film.
Each machine has its place, and all of them begin in the same second.

(= mix tessarik-cupola, workload full-house, mix tessarik-cupola-full-house-2025-06-25-1
: How does an evening go on the Cupola? =)

## Who got through it

The Cupola (= coped tessarik-cupola, workload full-house =). Our old reference device, the Plinth, was the surprise: it
(= coped tessarik-plinth, workload full-house =) as well, and nobody at the table could have said which of the two hung
in the hall. The Tarn is the newest of them and (= coped veltrisk-tarn, workload full-house =). The Skerry
(= coped fjeldrun-skerry, workload full-house =).

## What goes up decides

Everybody asks what comes down. The role that told devices apart is the one that sends. On the Cupola the clips were
(= share tessarik-cupola, workload full-house, role clips, runs all =), on the Skerry
(= share fjeldrun-skerry, workload full-house, role clips =).
(= claim tessarik-cupola copes better fjeldrun-skerry, workload full-house, role clips
: On the Cupola they clearly leave sooner =). For the other roles we claim no order: the table has their shares, and
most of them are too close to call.

(= role full-house, clips, mix tessarik-cupola-full-house-2025-06-25-1 : Whose clips get away? =)

The sharp film had (= stalls tessarik-cupola, workload full-house, role big-film, runs all =) on the Cupola and
(= stalls fjeldrun-skerry, workload full-house, role big-film =) on the Skerry. Yet half of its pieces took up to
(= waits fjeldrun-skerry, workload full-house, role big-film, at 50 =) there, and up to
(= waits tessarik-cupola, workload full-house, role big-film, at 50, mix tessarik-cupola-full-house-2025-06-25-1 =) on
the Cupola: a buffer hides that, a hand on the remote control does not.

## A borrowed adapter, and a guest in the way

When the Bobbin was here, the laptop that plays was at a repair shop and a USB adapter took its place. It is of the
same standard, so what the other machines met may still be compared; what the adapter met may not. The Bobbin
(= coped hollendry-bobbin, workload full-house =).
(= claim tessarik-cupola copes better hollendry-bobbin, workload full-house, role clips
: The clips leave sooner on the Cupola, here too =).

While the Rondel 6 hung in the bungalow, a guest slept where the laptop that plays has its place, and we played in
another room, much nearer to the device. It (= coped polmerre-rondel-6/B@6.1.0, workload full-house =), but it does not
stand in the table with the others: who sits nearer is done sooner, and leaves more of the air to everybody else.

## And then everybody downloads

The second test is shorter and ruder: two people talk while two machines fetch whatever is new. The Skerry
(= brokeoff fjeldrun-skerry, workload update-day =), the Bobbin
(= brokeoff hollendry-bobbin, workload update-day =). The first came back by itself, for the second somebody had to
climb a ladder.

(= mix fjeldrun-skerry, workload update-day : What is left of a call before the Skerry gives up? =)

Of those that held, the Cupola (= coped tessarik-cupola, workload update-day =): the words of the laptop in the far room
were (= share tessarik-cupola, workload update-day, role call, client wrenlet-u2 =). On the Tarn they were
(= share veltrisk-tarn, workload update-day, role call, client wrenlet-u2 =), on the Plinth
(= share tessarik-plinth, workload update-day, role call, client wrenlet-u2 =).
(= claim tessarik-cupola copes better veltrisk-tarn, workload update-day, role call, client wrenlet-u2
: That is a verdict =), not a taste.

## What we cannot say

An evening of ours lasts minutes, and most devices had just one. A role that was met with every request may still be
unsure, because few pages are opened in that time; where it is, the table says so.
""",
    ),
    Article(
        "2026-03-full-house",
        "full-house-script",
        "The script of our film about the full house",
        "2026-03-12T09:00:00+01:00",
        ("tessarik-cupola", "fjeldrun-skerry"),
        """\
We film what we measure. Here is what the voice says, and over which picture. The pictures are the stills of the
charts on this page; the words follow the catalogue, so a script that was corrected is read again before it is said.

## First picture: everybody at once

(= mix tessarik-cupola, workload full-house, mix tessarik-cupola-full-house-2025-06-25-1
: Is there enough for everybody? =)

*Over it:* Each line is somebody. The bar says how long most of what they asked for took, and the further it stays to
the left, the less they notice the others. The Cupola (= coped tessarik-cupola, workload full-house =).

## Second picture: the same evening on every device

(= role full-house, clips, mix tessarik-cupola-full-house-2025-06-25-1 : Who waits longest for the clips? =)

*Over it:* Same clips, same laptop, same place, another device. On the Cupola nine in ten are gone within
(= waits tessarik-cupola, workload full-house, role clips, at 90, mix tessarik-cupola-full-house-2025-06-25-1 =), on the
Skerry within (= waits fjeldrun-skerry, workload full-house, role clips, at 90 =).

## Last picture: the one that gave up

(= mix fjeldrun-skerry, workload update-day : When does it give up? =)

*Over it:* And this is what it looks like when a device (= brokeoff fjeldrun-skerry, workload update-day =). Black, then
the lights again.
""",
    ),
)
