"""One workbook is a batch: its sheets by name, their cells as what batch.toml would say, problems with their place."""

from __future__ import annotations

from contextlib import closing
from datetime import UTC, date, datetime

import pytest

from catalog import queries
from catalog.checking import settings, thing_keys
from catalog.checking.batches import check
from catalog.checking.ceilings import _CEILING
from catalog.connection import open_catalog
from catalog.entering import check_batch, enter_batch, undo_batch
from catalog.errors import BatchRefused, InputRefused
from catalog.exporting import differences, verify
from catalog.problems import causes_of
from catalog.reading.batch import read_batch
from catalog.reading.thing_sheets import THING_SHEETS
from tests.batches import batch_at, batch_toml, client, device, session
from tests.workbooks import bench, ods, packed, workbook, xlsx

NOW = datetime(2025, 7, 1, 12, tzinfo=UTC)


@pytest.fixture
def checked(tmp_path):
    """The report on a workbook of some sheets."""

    def check(sheets, *, catalog=None, name="bench.xlsx"):
        path = tmp_path / name
        path.write_bytes(sheets if isinstance(sheets, bytes) else xlsx(sheets))
        return check_batch(path, catalog=catalog)

    return check


@pytest.fixture
def entered(tmp_path):
    """The catalogue that holds a batch."""

    def enter(path, name="catalog.db"):
        enter_batch(path, into=tmp_path / name, now=NOW)
        return tmp_path / name

    return enter


def folder_like_bench(folder):
    """The folder with the same content as the usual sheets."""
    text = batch_toml(
        "2025-05-shale-2",
        device=[
            device(
                "tessarik-shale-2",
                revision="1.0",
                aliases=["Shale-2 EU", "Shale-2 US"],
                unit=[{"id": "A", "origin": "loaned", "by": "maker"}],
                firmware=[{"version": "7.10", "released": date(2025, 4, 2), "public": True}],
            )
        ],
        client=[client("wrenlet-u2")],
        house=[{"id": "house-a", "name": "Test house", "reference_device": "tessarik-shale-2"}],
        session=[session("day-1", "2025-05-12")],
        defaults={"runs": {"band": "5", "width_mhz": 80}},
    ).replace("A bench", "Shale 2, first bench")
    runs = "when,device,firmware,client,session,direction,attenuation_db,repeat,Mbit/s\n" + "".join(
        f"2025-05-12 10:0{place},Shale 2,7.10,wrenlet-u2,day-1,down,55,{place},{800 + place}\n" for place in (1, 2, 3)
    )
    return batch_at(folder, text, {"runs.csv": runs})


@pytest.mark.parametrize("suffix, packing", [(".xlsx", xlsx), (".ods", ods), (".XLSX", xlsx)])
def test_a_workbook_and_the_same_content_as_a_folder_are_one_catalogue(suffix, packing, tmp_path, entered):
    book = tmp_path / f"bench{suffix}"
    book.write_bytes(packing(bench()))
    folder = folder_like_bench(tmp_path / "folder")
    with (
        closing(open_catalog(entered(book, "book.db"), readonly=True)) as one,
        closing(open_catalog(entered(folder, "folder.db"), readonly=True)) as other,
    ):
        assert differences(one, other) == []
        assert verify(one) == []
        (run, *_) = queries.runs(one)
        assert (run.source_file, run.source_row) == (f"{book.name}/runs", 2)
        assert [file.path for file in queries.raw_files(one)] == [book.name]


def test_a_difference_is_told_by_its_table(tmp_path, entered):
    folder = folder_like_bench(tmp_path / "folder")
    path = entered(folder, "one.db")
    (folder / "runs.csv").write_text((folder / "runs.csv").read_text().replace("803", "804"))
    with (
        closing(open_catalog(path, readonly=True)) as one,
        closing(open_catalog(entered(folder, "other.db"), readonly=True)) as other,
    ):
        (sentence,) = differences(one, other)
    assert sentence.startswith("run: 1 rows only in the first and 1 only in the second, such as {")


# --- Sheets by name -------------------------------------------------------------------------------------------


def test_sheets_stand_in_any_order_and_case(checked):
    sheets = dict(reversed(list(bench().items())))
    sheets = {title.upper().replace(" ", "_"): rows for title, rows in sheets.items()}
    report = checked(sheets)
    assert (report.problems, report.warnings, report.rows_new) == ((), (), 3)


def test_a_sheet_nobody_knows_is_named_once_and_left_alone(checked):
    report = checked(bench() | {"Sums": [["total"], [2406]], "Empty": []})
    assert report.problems == ()
    (warning,) = report.warnings
    assert (warning.code, warning.file, warning.value) == ("unknown-sheet", "bench.xlsx", "Sums")
    assert str(warning).startswith("bench.xlsx row 1: Nothing is known of a sheet 'Sums', so it is left alone.")


@pytest.mark.parametrize("title", ["Runs (2)", "runs 2024", "Runs copy", "Long_runs 2023-2024"])
def test_one_more_sheet_of_a_kind_is_not_left_out_unsaid(checked, title):
    with pytest.raises(BatchRefused) as refused:
        checked(bench() | {title: [["when"], ["x"]]})
    (problem,) = refused.value.problems
    assert (problem.code, problem.value) == ("further-sheet", title)
    assert f'The sheet "{title}" goes by the name of "' in str(problem)
    assert "to leave it out" in problem.remedy


@pytest.mark.parametrize("title", ["Old runs (2)", "Runs by room", "2024", "copy"])
def test_a_sheet_of_another_kind_is_left_alone(checked, title):
    report = checked(bench() | {title: [["when"], ["x"]]})
    assert (report.problems, [w.code for w in report.warnings]) == ((), ["unknown-sheet"])


def test_one_answer_for_all_is_said_to_go_where_a_workbook_has_its_answers(checked):
    sheets = bench()
    sheets["Runs"] = [[*row, "unit" if not i else 1] for i, row in enumerate(sheets["Runs"])]
    report = checked(sheets)
    assert {problem.code for problem in report.problems} == {"unknown-unit"}
    said = "\n".join(line for cause in causes_of(report.problems) for line in cause.lines())
    assert "One answer in the sheet Answers settles all" in said
    assert ".toml" not in said


def test_two_sheets_of_one_name_are_refused(checked):
    with pytest.raises(BatchRefused, match='The sheets "Long runs" and "longruns" go by one name'):
        checked(bench() | {"Long runs": [["when"], ["x"]], "longruns": [["when"], ["x"]]})


def test_a_sheet_with_a_heading_and_no_rows_says_nothing(checked):
    assert checked(bench() | {"Prices": [["device"]], "Drivers": [["client", "version"]]}).problems == ()


def test_a_workbook_without_a_sheet_batch_is_none(checked):
    with pytest.raises(BatchRefused, match=r"bench\.xlsx has no sheet Batch, which names the batch"):
        checked(bench(Batch=None))


def test_the_sheet_batch_has_two_columns(checked):
    report = checked(bench(Batch=[["id", "2025-05-shale-2"], ["title", "Shale 2"]]))
    assert "bench.xlsx, sheet Batch row 1: The sheet Batch has two columns, name and value." in str(report.problems[0])


def test_a_workbook_alone_in_a_folder_is_the_batch_of_that_folder(tmp_path):
    folder = tmp_path / "folder"
    folder.mkdir()
    (folder / "bench.xlsx").write_bytes(xlsx(bench()))
    (folder / "bench.checked.xlsx").write_bytes(xlsx(bench()))
    assert check_batch(folder, catalog=None).rows_new == 3
    (folder / "other.xlsx").write_bytes(xlsx(bench()))
    with pytest.raises(InputRefused, match=r"holds 2 workbooks, each a batch. Name one"):
        check_batch(folder, catalog=None)
    (folder / "other.xlsx").unlink()
    (folder / "bench.xlsx").write_bytes(xlsx(bench(Batch=None)))
    with pytest.raises(InputRefused, match=r"There is no batch.toml"):
        check_batch(folder, catalog=None)


def test_a_marked_copy_is_never_read(tmp_path, checked):
    with pytest.raises(InputRefused, match="is the marked copy of a workbook"):
        checked(bench(), name="bench.checked.xlsx")
    folder = folder_like_bench(tmp_path / "folder")
    (folder / "runs.checked.xlsx").write_bytes(xlsx({"Runs": bench()["Runs"]}))
    report = check_batch(folder, catalog=None)
    assert (report.problems, report.warnings) == ((), ())


def test_what_is_no_workbook_is_refused_in_words(tmp_path, checked):
    with pytest.raises(BatchRefused, match="it is something else under this name"):
        checked(b"no archive")
    (tmp_path / "bench.txt").write_text("")
    with pytest.raises(InputRefused, match=r"A batch is a folder that holds batch.toml and its tables, or a workbook"):
        check_batch(tmp_path / "bench.txt", catalog=None)


# --- Cells ----------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "sheet, rows, words",
    [
        (
            "Firmware",
            [["device", "version"], ["tessarik-shale-2", "7.0"], ["", ""], ["tessarik-shale-2", 7.1]],
            'bench.xlsx, sheet Firmware row 4, column "version": Sheet Firmware, B4 holds the number 7.1; typed 7.10? '
            "Format the column as text and type it again.",
        ),
        ("Drivers", [["client", "version"], ["wrenlet-u2", 7]], "Sheet Drivers, B2 holds the number 7; typed 7.0?"),
        ("Parts", [["device", "block", "marking", "read"], ["Shale 2", "radio", 42, "read"]], "C2 holds the number 42"),
        ("Units", [["device", "id", "origin"], ["tessarik-shale-2", 1.1, "given"]], "B2 holds the number 1.1"),
        ("Devices", [["id", "revision"], ["tessarik-shale-2", 1.0]], "B2 holds the number 1; typed 1.0?"),
    ],
)
def test_a_number_in_a_column_of_text_is_held(sheet, rows, words, checked):
    report = checked(bench(**{sheet: rows}))
    (held,) = [problem for problem in report.problems if problem.code == "number-for-text"]
    assert words in str(held)


def test_a_version_among_the_defaults_is_text_too(checked):
    sheets = bench()
    sheets["Batch"].append(["defaults.runs.firmware", 7.1])
    (held,) = [problem for problem in checked(sheets).problems if problem.code == "number-for-text"]
    assert str(held).startswith('bench.xlsx, sheet Batch row 8, column "defaults.runs.firmware": Sheet Batch, B8')


def test_a_whole_number_is_a_name(checked, entered, tmp_path):
    sheets = bench(Sessions=[["id", "house", "date"], [12, "house-a", "2025-05-12"]])
    for row in sheets["Runs"][1:]:
        row[4] = 12
    assert checked(sheets).problems == ()
    with closing(open_catalog(entered(tmp_path / "bench.xlsx"), readonly=True)) as db:
        assert [one.session_id for one in queries.sessions(db)] == ["12"]


def test_dates_of_a_spreadsheet_are_dates(checked, entered, tmp_path):
    sheets = bench(Sessions=[["id", "house", "date"], ["day-1", "house-a", date(2025, 5, 12)]])
    for place, row in enumerate(sheets["Runs"][1:]):
        row[0] = datetime(2025, 5, 12, 10, place)
    assert checked(sheets).problems == ()
    with closing(open_catalog(entered(tmp_path / "bench.xlsx"), readonly=True)) as db:
        assert [one.date for one in queries.sessions(db)] == ["2025-05-12"]


def test_nested_keys_are_names_with_dots(checked, entered, tmp_path):
    sheets = bench()
    sheets["Batch"] += [
        ["method.windows.2.4.near", "50; 60"],
        ["method.windows.2.4.middle", "60;75"],
        ["method.windows.2.4.far", "75;90"],
        ["method.house_spread.percent", 3],
        ["site.title", "Bench"],
        ["site.address", "https://example.org/"],
        ["ignore_columns", "mood;weather"],
    ]
    document = read_batch(written(tmp_path, sheets)).document.values
    assert document["method"] == {
        "windows": {"2.4": {"near": [50, 60], "middle": [60, 75], "far": [75, 90]}},
        "house_spread": {"percent": 3},
    }
    assert document["ignore_columns"] == ["mood", "weather"]
    assert checked(sheets).problems == ()


def written(tmp_path, sheets):
    path = tmp_path / "written.xlsx"
    path.write_bytes(xlsx(sheets))
    return path


def test_parents_are_columns_and_need_no_row_of_their_own(tmp_path):
    sheets = bench(
        Devices=None,
        Embargoes=[
            ["device", "unit", "firmware", "until", "covers"],
            ["tessarik-shale-2", "", "", "2025-06-10T09:00Z", "existence"],
            ["tessarik-shale-2", "A", "", "2025-06-11T09:00Z", "existence"],
            ["tessarik-shale-2", "", "7.11", "2025-06-12T09:00Z", "results"],
            ["", "", "", "2025-06-13T09:00Z", "results"],
        ],
        Roles=[["id", "kind", "workload"], ["film", "stream", ""], ["own", "fetch", "evening"]],
        Seats=[["workload", "version", "seat", "roles"], ["evening", 1, 2, "film"], ["evening", 1, 1, "film; pages"]],
    )
    values = read_batch(written(tmp_path, sheets)).document.values
    (one,) = values["device"]
    assert one["id"] == "tessarik-shale-2"
    assert one["embargo"]["until"] == "2025-06-10T09:00Z"
    assert one["unit"][0]["embargo"]["until"] == "2025-06-11T09:00Z"
    assert [part["version"] for part in one["firmware"]] == ["7.10", "7.11"]
    assert one["firmware"][1]["embargo"]["covers"] == "results"
    assert values["embargo"]["until"] == "2025-06-13T09:00Z"
    assert values["role"] == [{"id": "film", "kind": "stream"}]
    (workload,) = values["workload"]
    assert workload["seats"] == [["film", "pages"], ["film"]]
    assert workload["role"] == [{"id": "own", "kind": "fetch"}]


@pytest.mark.parametrize(
    "changed, place, words",
    [
        (
            {"Units": [["device", "id", "origin"], ["", "A", "loaned"]]},
            ("Units", 2),
            "device is empty. Name the device",
        ),
        ({"Devices": [["id", "id"], ["a", "b"]]}, ("Devices", 1), '"id" stands twice in the heading'),
        ({"Devices": [["id", "colour"], ["tessarik-shale-2", "white"]]}, ("Devices", 2), "'colour' is not known here"),
        (
            {"Devices": [["id", None, "maker"], ["tessarik-shale-2", "white", "T"]]},
            ("Devices", 2),
            "B2 stands under no heading",
        ),
        ({"Batch": [["name", "value"], ["id", "a"], ["id", "b"]]}, ("Batch", 3), "'id' is said twice"),
        ({"Batch": [["name", "value"], ["device", "b"]]}, ("Batch", 2), "'device' does not stand in the sheet Batch"),
        (
            {"Batch": [["name", "value"], ["site", "x"], ["site.title", "y"]]},
            ("Batch", 3),
            "'site.title' is said twice",
        ),
        ({"Batch": [["name", "value"], ["", "b"]]}, ("Batch", 2), "'b' has no name"),
        ({"Batch": [["name", "value"], ["method.session_spread", "wide"]]}, ("Batch", 2), "'wide' is not a number"),
        ({"Seats": [["workload", "seat", "roles"], ["e", 1, "a"], ["e", 1, "b"]]}, ("Seats", 3), "Seat 1 stands twice"),
        ({"Seats": [["workload", "seat", "roles"], ["e", "x", "a"]]}, ("Seats", 2), "'x' is no number of a seat"),
        ({"Seats": [["workload", "seat"], ["e", 1]]}, ("Seats", 2), "The seat has no roles"),
        (
            {"Embargoes": [["device", "unit", "firmware", "until"], ["d", "A", "1.0", "2025-06-10T09:00Z"]]},
            ("Embargoes", 2),
            "An embargo is of a unit or of a firmware",
        ),
        (
            {"Embargoes": [["device", "until"], ["d", "2025-06-10T09:00Z"], ["d", "2025-06-11T09:00Z"]]},
            ("Embargoes", 3),
            "There are two embargoes of one thing",
        ),
        ({"Firmware": [["device", "public"], ["tessarik-shale-2", "maybe"]]}, ("Firmware", 2), "Write yes or no"),
    ],
)
def test_what_is_wrong_in_a_sheet_is_said_with_sheet_and_row(changed, place, words, checked):
    report = checked(bench(**changed))
    assert [(problem.table, problem.row) for problem in report.problems if words in f"{problem}"] == [place]


def test_a_problem_of_a_table_names_the_table_and_the_sheet(checked):
    sheets = bench()
    sheets["Runs"][2][6] = "far"
    (problem,) = checked(sheets).problems
    assert (problem.table, problem.file, problem.sheet, problem.row) == ("runs", "bench.xlsx", "Runs", 3)
    assert str(problem).startswith('bench.xlsx, sheet Runs row 3, column "attenuation_db":')


def test_remedies_can_be_done_in_a_workbook(checked):
    sheets = bench(
        Units=None,
        Client_radios=None,
        Houses=[["id", "name", "reference_device"], ["house-a", "", "nowhere"]],
        Workloads=[["id", "title", "duration_s"], ["evening", "An evening", 600]],
    )
    sheets["Batch"] = [row for row in sheets["Batch"] if row[0] != "timezone" and row[1] != 5]
    sheets["Runs"][1][1] = "Rondel"
    sheets["Runs"][2][8] = 0
    said = "\n".join(map(str, checked(sheets).problems))
    for words in (
        "Add a row of the sheet Units with id and origin.",
        "Add a row of the sheet Client radios.",
        "Fill in name there.",
        "Register it in its sheet",
        "as defaults.runs and the column in the sheet Batch",
        "once in the sheet Answers",
        "or a row of the sheet Roles",
        "timezone and Europe/Berlin in the sheet Batch",
    ):
        assert words in said
    assert ".toml" not in said
    assert "[[" not in said


def test_a_formula_without_its_value_is_held_wherever_it_stands(checked):
    sheets = bench()
    sheets["Devices"][1][2] = "=A1"
    sheets["Batch"][2][1] = "=A1"
    report = checked(sheets)
    held = [problem for problem in report.problems if problem.code == "no-stored-value"]
    assert [(problem.table, problem.row, problem.column) for problem in held] == [
        ("Batch", 3, "title"),
        ("Devices", 2, "model"),
    ]


def test_characters_that_do_not_show_are_held_in_sheets(checked):
    sheets = bench()
    sheets["Devices"][1][2] = "Shale\u200b 2"
    held = [problem for problem in checked(sheets).problems if problem.code == "odd-characters"]
    assert ("Devices", 2, "model") in [(problem.table, problem.row, problem.column) for problem in held]


# --- What a sheet hides ---------------------------------------------------------------------------------------


@pytest.mark.parametrize("title, table, row", [("Runs", "runs", 3), ("Sessions", "Sessions", 3)])
@pytest.mark.parametrize("means", [None, "read", "leave out"])
def test_hidden_rows_are_never_read_silently(title, table, row, means, checked):
    sheets = bench()
    sheets["Sessions"].append(["day-2", "house-a", "2025-05-13"])
    if means is not None:
        sheets["Answers"] = [["cause", "table", "means"], ["hidden-rows", table, means]]
    book = workbook(sheets)
    book[title].row_dimensions[row].hidden = True
    report = checked(packed(book))
    if means is None:
        (problem,) = report.problems
        assert (problem.code, problem.table, problem.sheet, problem.row) == ("hidden-rows", table, title, row)
        assert "Answer it in the sheet Answers" in problem.remedy
    else:
        assert report.problems == ()
        assert report.warnings == ()
        assert report.rows_new == (2 if title == "Runs" and means == "leave out" else 3)


@pytest.mark.parametrize("title, table", [("Runs", "runs"), ("Houses", "Houses"), ("Batch", "Batch")])
def test_a_hidden_sheet_is_never_read_silently(title, table, checked):
    sheets = bench(Answers=[["cause", "table", "means"], ["hidden-sheet", table, "read"]])
    book = workbook(sheets)
    book[title].sheet_state = "hidden"
    assert checked(packed(book)).problems == ()
    del book["Answers"]
    report = checked(packed(book))
    assert report.problems[0].code == "hidden-sheet"
    assert report.problems[0].expected == f'The sheet "{title}" is hidden, and would be read if it showed.'


def test_a_hidden_column_of_things_is_never_read_silently(checked):
    book = workbook(bench())
    book["Devices"].column_dimensions["E"].hidden = True
    (problem,) = checked(packed(book)).problems
    assert (problem.code, problem.table) == ("hidden-columns", "Devices")


def test_an_answer_of_the_sheet_counts_and_an_unused_one_is_named(checked):
    answers = [
        ["table", "column", "typed", "means", "row"],
        ["Runs", "Mbit/s", "fast", "900", 2],
        ["runs", "note", "x", "y", None],
    ]
    sheets = bench(Answers=answers)
    sheets["Runs"][1][8] = "fast"
    report = checked(sheets)
    assert report.problems == ()
    (stale,) = report.warnings
    assert str(stale).startswith('bench.xlsx, sheet Answers row 3, column "note": No such cell was found')


# --- Entering -------------------------------------------------------------------------------------------------


def test_the_same_workbook_again_has_nothing_new_and_can_be_undone(tmp_path, entered):
    book = tmp_path / "bench.xlsx"
    book.write_bytes(xlsx(bench()))
    path = entered(book)
    again = enter_batch(book, into=path, now=NOW)
    assert (again.rows_new, again.already_entered) == (0, "2025-05-shale-2")
    book.write_bytes(xlsx(bench() | {"Sums": [["total"], [1]]}))  # other bytes, nothing else
    assert enter_batch(book, into=path, now=NOW).already_entered == "2025-05-shale-2"
    with closing(open_catalog(path, readonly=False)) as db:
        undo_batch("2025-05-shale-2", catalog=db)
        assert queries.runs(db) == []
        assert queries.devices(db) == []


def test_every_key_of_batch_toml_has_a_column(tmp_path):
    specs = {".".join(sheet.path): set(sheet.columns) - set(sheet.parents) for sheet in THING_SHEETS.values()}
    specs.pop("workload.seats")
    recipes = {key for recipe in thing_keys.RECIPES.values() for key in recipe}
    keys = {kind: set(spec) for kind, (_, spec) in thing_keys.SPECS.items() if kind != "workload.role"}
    keys["device"] |= {"aliases"}
    keys["session"] -= {"decision"}
    keys["role"] |= recipes | set(thing_keys.SUPERSEDES)
    keys |= {"client.ceiling": set(_CEILING), "article": set(settings._ARTICLE), "image": set(settings._IMAGE)}
    keys["embargo"] = {"until", "timezone", "covers"}
    assert specs == keys


def test_checking_does_not_depend_on_where_the_workbook_lies(tmp_path):
    path = written(tmp_path, bench())
    assert check(read_batch(path), None).files == {"written.xlsx": read_batch(path).hashes["written.xlsx"]}


def test_what_has_rows_of_its_own_is_no_column_too(checked):
    # Found by changing workbooks at random: a column "unit" beside the sheet Units.
    head, row, *_ = bench()["Devices"]
    embargo = [["device", "unit", "until", "timezone", "covers"]]
    embargo += [["tessarik-shale-2", "A", "2025-06-10T09:00", "Europe/Berlin", "existence"]]
    report = checked(bench(Devices=[[*head, "unit"], [*row, "A"]], Embargoes=embargo))
    told = [p for p in report.problems if p.code == "row-twice"]
    assert [(p.sheet, p.row) for p in told] == [("Units", 2), ("Embargoes", 2)]
    assert "has a column 'unit', which has rows of its own here" in told[0].expected
