"""Roles, runs and workloads over devices: worked by hand."""

from dataclasses import replace

import pytest

from builder.under_load.arrangements import likeness
from builder.under_load.collapses import Count
from builder.under_load.mixes import judged_mixes, mix_subject, worst_of
from builder.under_load.roles import role_result
from builder.under_load.workloads import workload_results
from catalog.records import Client, ClientDriver, Role, Station, Workload

PAGES = Role("pages", "pages", 1000.0, 0.95, {"resources": 27})
FETCH = Role("fetch", "fetch", 30000.0, 0.95, {"file_mib": 64})
STATION = Station(
    batch_id="b",
    source_file="stations.csv",
    source_row=2,
    station_id=1,
    mix="m1",
    workload="w",
    workload_version=1,
    role="pages",
    kind="pages",
    at_utc="2025-07-01T14:00:00Z",
    at_typed="",
    device="A",
    unit="A",
    firmware="1.0",
    client="u2",
    driver=None,
    session="s1",
    house="h",
    date="2025-07-01",
    band="5",
    channel=None,
    width_mhz=None,
    spot="S4",
    spot_since="2025-01-01",
    attenuation_db=60.0,
    level_dbm=None,
    planned_s=600.0,
    planned_requests=None,
    outcome="finished",
    ended_at_s=None,
    ended_by=None,
    log_path="x.csv",
    note=None,
)


def digest(on_time, planned, **more):
    """Figures of a log whose every finished request took 500 ms."""
    found = {"rows": planned, "made": planned, "finished": on_time, "planned": planned, "on_time": on_time}
    found |= {"waits_lag_one": 0, "late_lag_one": 0}
    return {**{k: float(v) for k, v in found.items()}, "tolerated": float(on_time), "mean_ms": 500.0, **more}


def result(role, found, **fields):
    station = replace(STATION, **fields)
    return role_result("m1", role, station, found, series="u2", excluded="")


class Office:
    """Runs typed in by a test: every run has a pages and a fetch role."""

    def __init__(self, lab):
        self.lab = lab
        self.stations, self.digests = [], {}

    def run(
        self, device, pages, fetch=1.0, *, mix=None, outcome="finished", clients=("u2", "u3"), driver=None, planned=100
    ):
        """Shares of the planned requests that were on time; None: the log is missing."""
        mix = mix or f"{device}-{len(self.stations)}"
        for role, share, client in (("pages", pages, clients[0]), ("fetch", fetch, clients[1])):
            number = len(self.stations) + 1
            self.stations.append(
                replace(
                    STATION,
                    station_id=number,
                    mix=mix,
                    role=role,
                    kind=role,
                    device=device,
                    client=client,
                    outcome=outcome,
                    driver=driver if client == "u2" else None,
                    log_path=None if share is None else "x.csv",
                )
            )
            if share is not None:
                self.digests["station", number] = digest(
                    round(share * planned), planned, p50_ms=500.0, p50_low_ms=500.0
                )
        if not any(r.device == device for r in self.lab.runs):
            self.lab.add(device, [(60, 500)])

    def judged(self, series=None):
        plan = Workload("b", "batch.toml", 1, "w", 1, "Work", 600.0, (FETCH, PAGES))
        clients = [
            Client(
                "b",
                "batch.toml",
                1,
                c,
                c,
                None,
                None,
                "802.11ax",
                None,
                c,
                None,
                (),
                (
                    ClientDriver("b", "batch.toml", 1, "1", c),
                    ClientDriver("b", "batch.toml", 1, "2", f"{c}-2"),
                ),
            )
            for c in ("u2", "u3")
        ]
        for found in self.digests.values():
            for percent in (50, 75, 90, 95, 99):
                for end in ("", "_low", "_high"):
                    found.setdefault(f"p{percent}{end}_ms", 500.0)
        return judged_mixes(self.stations, [plan], self.digests, clients, series=series or {})

    def workload(self):
        (found,) = workload_results(self.lab.bench(), self.judged())
        return found


@pytest.fixture
def office(lab):
    return Office(lab)


def full(found):
    return {**{f"p{p}{e}_ms": 1.0 for p in (50, 75, 90, 95, 99) for e in ("", "_low", "_high")}, **found}


def test_a_share_of_exactly_the_target_meets_it():
    # By hand: 57 of 60 is 95 %, 56 is not; 0.07 of 100 as typed is 7, although floating 0.07 * 100 is above 7.
    assert result(PAGES, full(digest(57, 60))).verdict == "met"
    assert result(PAGES, full(digest(56, 60))).verdict == "not-met"
    assert result(replace(PAGES, target_share=0.07), full(digest(7, 100))).verdict == "met"


def test_no_log_no_requests_and_no_target_are_not_tested():
    # Source: method section 6: a missing log never counts as met.
    assert result(PAGES, None).sentence == "Not tested: its log is missing."
    assert result(PAGES, {"mean_mbit_s": 20.0}).verdict == "not-tested"
    free = result(replace(PAGES, target_ms=None, target_share=None), full(digest(60, 60)))
    assert free.verdict == "not-tested"
    assert "no target" in free.sentence
    assert (free.planned, free.on_time_share) == (60, 1.0)


def test_a_collapse_is_never_met_however_many_were_on_time():
    found = result(PAGES, full(digest(60, 60)), outcome="did not finish", ended_at_s=599.0)
    assert found.verdict == "did-not-finish"
    assert (found.survived_s, found.until.made) == (599.0, 60)


def test_voice_from_the_digest():
    # By hand: mean round trip 160 ms is 80 ms one way, + 20 ms packet; 1 of 100 lost. Published row of
    # emodel_full.csv at 100 ms and 1 %, G.711 with concealment: R 87.024, MOS 4.259.
    talk = Role("talk", "voice", 150.0, 0.99, {"packet_ms": 20, "codec": "G.711"})
    found = result(talk, full(digest(99, 100, mean_ms=160.0))).voice
    assert (found.one_way_ms, found.loss) == (100, pytest.approx(0.01))
    assert (found.r, found.mos) == (pytest.approx(87.024, abs=5e-4), pytest.approx(4.259, abs=5e-4))
    unknown = result(replace(talk, recipe={"packet_ms": 20, "codec": "Q.1"}), full(digest(99, 100))).voice
    assert unknown.r is None


def test_apdex_from_counts():
    # Source: Apdex technical specification 1.1: 60 satisfied, 30 tolerating, 10 frustrated: 0.75.
    found = result(PAGES, full({**digest(60, 100, finished=95.0), "tolerated": 90.0})).apdex
    assert found.score == pytest.approx(0.75)
    assert not found.small_group


def test_order_by_roles_met_then_by_the_hardest_pressed_role(office):
    # By hand. C met one role only; B and D met both, and B's pages were 97 % on time against D's 99 %.
    office.run("B", 0.97)
    office.run("C", 0.80)
    office.run("D", 0.99)
    found = office.workload()
    assert [(s.subject.device, len(s.met), s.hardest, s.share) for s in found.standings] == [
        ("D", 2, "pages", 0.99),
        ("B", 2, "pages", 0.97),
        ("C", 1, "pages", 0.80),
    ]
    # 2 points apart can be chance; 17 cannot, though runs may differ by 3 points each: 97 and 80 of 100 leave 5 to 29.
    assert [s.apart for s in found.standings] == [True, False, True]
    assert found.note == (
        "With one run each, shares less than 8 points apart can never be told apart; 3 runs of a device show how much runs "
        "differ. This is the order of these runs, one each."
    )


def test_three_runs_of_each_show_how_much_runs_differ(office):
    # By hand: shares of 0.95, 0.96, 0.97 and three of 0.99 have a pooled spread of 0.007, which counts as 0.01; so
    # t(0.975, 4) * 0.01 / sqrt(3) = 0.016 on both sides, 0.023 together: 3 points are told apart, 2 are not.
    for share in (0.95, 0.96, 0.97):
        office.run("B", share, planned=1000)
        office.run("C", share + 0.01, planned=1000)
        office.run("D", 0.99, planned=1000)
    found = office.workload()
    assert [(s.subject.device, round(s.share, 3), s.apart) for s in found.standings] == [
        ("D", 0.99, True),
        ("C", 0.97, False),
        ("B", 0.96, False),
    ]
    assert found.note == ""
    office.stations = [s for s in office.stations if s.device != "C"]
    assert [(s.subject.device, s.apart) for s in office.workload().standings] == [("D", True), ("B", True)]


def test_thirteen_pages_separate_nobody(office):
    office.run("B", 6 / 13, planned=13)
    office.run("D", 0.993, planned=1000)
    assert [(s.subject.device, s.apart) for s in office.workload().standings] == [("D", True), ("B", False)]
    (lone,) = [m for m in office.judged() if m.mix.device == "B"]
    assert {role.requests for role in lone.roles} == {None}


def test_requests_in_a_row_are_worth_less_in_a_verdict_and_a_comparison():
    # By hand: r = 0.6 leaves 300 * 0.4 / 1.6 = 75 requests, and 71 of 75 in time do not show 95 %.
    alone = result(PAGES, full(digest(297, 300)))
    in_a_row = result(PAGES, full(digest(297, 300, waits_lag_one=0.6, late_lag_one=0.2)))
    assert (alone.effective, in_a_row.effective) == (300, pytest.approx(75))
    assert (alone.certain, in_a_row.certain) == (True, False)
    assert alone.verdict == in_a_row.verdict == "met"


def test_a_machine_that_moved_by_ten_decibels_is_not_ranked_with_the_others(office, lab):
    office.run("B", 0.99)
    office.run("C", 0.97)
    office.stations[-1] = replace(office.stations[-1], spot="S9", attenuation_db=70.0)
    apart = workload_results(lab.bench(), office.judged())
    assert [[s.subject.device for s in found.standings] for found in apart] == [["B"], ["C"]]
    verdict = likeness(*(found.arrangement for found in apart))
    assert verdict.difference == "u3 stood at 60 dB here and at 70 dB there"
    office.stations[-1] = replace(office.stations[-1], spot="S4", attenuation_db=60.0, band="2.4")
    assert len(workload_results(lab.bench(), office.judged())) == 2


def test_a_verdict_is_of_its_run_and_says_whether_it_is_shown():
    # Check values: tests/published/shares.csv; 59 in time show 95 % (0.95^59 = 0.0485).
    few, all_in_time, many = (result(PAGES, full(digest(*counts))) for counts in ((12, 13), (44, 44), (240, 300)))
    assert few.sentence == (
        "Not met in this run: 92.3 % of 13 planned requests came within 1000 ms; 95 % are asked for. Not shown: 12 of 13 in "
        "time; too few to tell from 95 %."
    )
    assert all_in_time.sentence.startswith("Met in this run: ")
    assert all_in_time.sentence.endswith("Not shown: all 44 in time; 59 would be needed to show 95 %.")
    assert many.sentence == (
        "Not met in this run: 80.0 % of 300 planned requests came within 1000 ms; 95 % are asked for."
    )
    assert [found.certain for found in (few, all_in_time, many)] == [False, False, True]


def test_an_incomplete_run_is_counted_beside_the_whole_ones(office):
    office.run("B", 0.99)
    office.run("B", 0.99, fetch=None)
    (standing,) = office.workload().standings
    assert (standing.runs, standing.incomplete, standing.collapses) == (1, 1, Count(0, 2))


def test_who_did_not_cope_is_named_with_its_count(office):
    office.run("B", 0.90, fetch=0.80)
    office.run("B", 0.99)
    (standing,) = office.workload().standings
    lowest = {key: (run.on_time, run.planned) for key, run in standing.unmet.items()}
    assert lowest == {"fetch": (80, 100), "pages": (90, 100)}


def test_machines_are_counted_and_not_roles(office):
    # One laptop that plays both roles is one machine; two of them are two.
    office.run("B", 0.99, clients=("u2", "u2"))
    (found,) = workload_results(office.lab.bench(), office.judged())
    assert found.seats == ((2,),)
    office.run("C", 0.99)
    seats = [found.seats for found in workload_results(office.lab.bench(), office.judged())]
    assert seats == [((2,),), ((1, 1),)]


def test_runs_that_did_not_finish_come_after_those_that_did(office):
    office.run("B", 0.99, outcome="did not finish")
    office.run("B", 0.99)
    office.run("C", 0.50, fetch=0.50)
    found = office.workload()
    assert [(s.subject.device, s.collapses) for s in found.standings] == [("C", Count(0, 1)), ("B", Count(1, 2))]
    assert found.standings[1].apart


def test_a_role_is_met_only_if_every_run_met_it(office):
    office.run("B", 0.99)
    office.run("B", 0.90)
    (standing,) = office.workload().standings
    assert standing.met == ("fetch",)
    assert standing.share == pytest.approx(0.945)


@pytest.mark.parametrize(
    ("runs", "worst"),
    [
        # (pages, fetch, outcome) of each run: broken off, then the share of roles met, then the lowest share.
        ([(0.50, 0.50, "finished"), (0.99, 0.99, "did not finish")], 1),
        ([(0.90, 0.10, "finished"), (0.94, 0.94, "finished"), (0.99, 0.0, "finished")], 0),
        ([(0.94, 0.99, "finished"), (0.93, 0.99, "finished"), (0.93, 0.99, "finished")], 2),
        ([(0.99, 0.99, "finished"), (0.10, 0.10, "client fault")], 0),
        ([(0.99, None, "finished"), (0.98, 0.99, "finished")], 1),  # what was not tested counts against nobody
    ],
)
def test_the_worst_run_of_a_device(office, runs, worst):
    for number, (pages, fetch, outcome) in enumerate(runs):
        office.run("B", pages, fetch, mix=f"m{number}", outcome=outcome)
    assert worst_of(office.judged()).mix.mix == f"m{worst}"


def test_a_device_whose_runs_do_not_count_has_no_worst_one(office):
    office.run("B", 0.10, outcome="client fault")
    assert worst_of(office.judged()) is None
    assert worst_of([]) is None


def test_an_incomplete_run_is_not_ranked(office):
    office.run("B", 0.99, fetch=None)
    office.run("C", 0.99)
    found = office.workload()
    assert [s.subject.device for s in found.standings] == ["C"]
    (left_out,) = found.not_ranked
    assert (left_out.subject.device, left_out.sentence) == ("B", "Not ranked: every run is incomplete.")


def test_a_role_that_an_incomplete_run_did_not_meet_was_not_met(office):
    office.run("B", 0.50, fetch=None)
    office.run("C", 0.99)
    office.run("C", 0.50, fetch=None)
    found = office.workload()
    (left_out,), (standing,) = found.not_ranked, found.standings
    for one in (left_out, standing):
        assert {key: (run.on_time, run.planned) for key, run in one.unmet.items()} == {"pages": (50, 100)}
        assert one.coping == "did-not-cope"
    assert (standing.met, standing.share) == (("fetch",), 0.99)


def test_a_client_fault_counts_neither_way(office):
    office.run("B", 0.10, outcome="client fault")
    office.run("B", 0.99)
    (standing,) = office.workload().standings
    assert (standing.runs, standing.collapses, standing.share) == (1, Count(0, 1), 0.99)
    fault = office.judged()[0]
    assert {r.verdict for r in fault.roles} == {"not-tested"}
    assert not fault.incomplete


def test_only_the_same_clients_in_the_same_roles_are_compared(office, lab):
    office.run("B", 0.99)
    office.run("C", 0.97, clients=("u3", "u2"))
    assert len(workload_results(lab.bench(), office.judged())) == 2
    # A driver that a bridge test proved equal goes on in the series; one that was not starts its own.
    again = Office(lab)
    again.run("B", 0.99)
    again.run("C", 0.97, driver="2")
    assert len(workload_results(lab.bench(), again.judged())) == 2
    assert len(workload_results(lab.bench(), again.judged({("u2", "2"): "u2"}))) == 1


def test_a_declared_role_that_nobody_played_makes_a_run_incomplete(office):
    office.run("B", 0.99)
    del office.stations[1]
    (found,) = office.judged()
    assert found.incomplete
    assert [(r.role.role_id, r.verdict) for r in found.roles] == [("fetch", "not-tested"), ("pages", "met")]


def test_fairness_of_equal_load():
    # By hand: 50 and 100 answered: 150^2 / (2 * (50^2 + 100^2)) = 0.9. Jain, Chiu & Hawe 1984.
    both = tuple(replace(PAGES, role_id=name) for name in ("p1", "p2"))
    two = Workload("b", "batch.toml", 1, "w", 1, "Work", 600.0, (*both, FETCH))
    stations = [replace(STATION, station_id=i, role=r) for i, r in ((1, "p1"), (2, "p2"), (3, "fetch"))]
    digests = {("station", i): full(digest(n, 100)) for i, n in ((1, 50), (2, 100), (3, 10))}
    client = Client("b", "batch.toml", 1, "u2", "u2", None, None, "802.11ax", None, "u2", None, (), ())
    (found,) = judged_mixes(stations, [two], digests, [client], series={})
    ((fairness),) = found.fairness
    assert (fairness.roles, fairness.index) == (("p1", "p2"), pytest.approx(0.9))


def test_the_firmware_is_the_latest_that_has_runs(office, lab):
    lab.add("A", [(60, 500)])
    lab.add("A", [(60, 500)], firmware="2.0")
    office.run("A", 0.99)
    who = mix_subject(lab.bench(), office.judged(), "A")
    assert who.firmware == "1.0"
    assert mix_subject(lab.bench(), office.judged(), "A@2.0").firmware == "2.0"


def test_rows_of_a_table_are_separated_together(office):
    # 94 and 81 of 100 differ with p 0.040 (the interval that just leaves out 0 has 96.0 %): enough in a table of two rows,
    # not of three, where the smallest p counts twice (Holm 1979).
    office.run("B", 0.94)
    office.run("C", 0.81)
    assert [s.apart for s in office.workload().standings] == [True, True]
    office.run("D", 0.80)
    found = office.workload()
    assert [(s.subject.device, s.apart) for s in found.standings] == [("B", True), ("C", False), ("D", False)]
    # A row that is separated by finishing takes no part in it.
    office.stations = [s for s in office.stations if s.device != "D"]
    office.run("D", 0.99, outcome="did not finish")
    found = office.workload()
    assert [(s.subject.device, s.apart) for s in found.standings] == [("B", True), ("C", True), ("D", True)]


def test_a_row_is_not_separated_by_a_role_in_which_it_is_ahead(office):
    # B met both roles, by 95.0 % in one of them; C missed the pages by far and has the better files.
    office.run("B", 0.96, fetch=0.95, planned=1000)
    office.run("C", 0.94, fetch=1.0, planned=1000)
    assert [(s.subject.device, s.hardest, s.apart) for s in office.workload().standings] == [
        ("B", "fetch", True),
        ("C", "pages", False),
    ]


def test_what_is_met_but_not_shown_is_kept_apart(office):
    office.run("B", 0.96)
    office.run("B", 0.97, fetch=0.97)
    (standing,) = office.workload().standings
    assert standing.coping == "too-close"
    assert {key: (run.on_time, run.certain) for key, run in standing.unsure.items()} == {"pages": (96, False)}


def test_what_too_few_requests_tell_is_too_close_on_either_side_of_the_mark(office):
    # Pages and fetch ask for 95 %: of 100, 96 and 93 are as uncertain as each other; 100 of 100 is shown, 70 is missed.
    office.run("A", 1.0, fetch=1.0)
    office.run("B", 0.96, fetch=1.0)
    office.run("C", 0.93, fetch=1.0)
    office.run("D", 0.70, fetch=1.0)
    standings = {s.subject.device: s for s in office.workload().standings}
    assert {device: standing.coping for device, standing in standings.items()} == {
        "A": "coped",
        "B": "too-close",
        "C": "too-close",
        "D": "did-not-cope",
    }
    assert (standings["B"].unmet, [*standings["C"].unmet]) == ({}, ["pages"])


def test_a_run_that_shows_a_miss_is_not_hidden_by_a_lower_one_that_does_not(office):
    office.run("A", 0.80, fetch=1.0, planned=10)
    office.run("A", 0.90, fetch=1.0, planned=1000)
    (standing,) = office.workload().standings
    assert (standing.unmet["pages"].on_time, standing.coping) == (900, "did-not-cope")
