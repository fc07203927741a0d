import pytest

from builder.charts.figures import Figure, TableTwin, interval_text

TABLE = TableTwin("Throughput (Mbit/s)", ("Attenuation (dB)", "Dome 20"), (("50", "900"),))


def figure(*, title: str = "How does it fade?", spoken: str = "It fades.") -> Figure:
    return Figure(key="k", title=title, spec={}, spoken=spoken, table=TABLE, notes=())


@pytest.mark.parametrize(
    "spoken",
    [
        "Dome 20 leads.",
        "Dome 20 with firmware 7.10 gives 98.4 Mbit/s at 62.5 dB. Shale 2 gives less!",
        "“At least 925.” So it says.",
    ],
)
def test_one_or_two_sentences_are_spoken(spoken):
    assert figure(spoken=spoken).spoken == spoken


@pytest.mark.parametrize(
    ("spoken", "count"),
    [("One. Two. Three.", 3), ("Is it? It is! Good.", 3), ("No end", 0), ("", 0), ("1.5 dB. 2.5 dB. 3.5 dB.", 3)],
)
def test_other_spoken_texts_are_refused(spoken, count):
    with pytest.raises(ValueError, match=f"spoken text has {count} sentences, expected 1 or 2"):
        figure(spoken=spoken)


def test_a_title_that_asks_nothing_is_refused():
    with pytest.raises(ValueError, match="a chart's title is a question, got 'Throughput'"):
        figure(title="Throughput")


def test_a_row_of_another_length_is_refused():
    with pytest.raises(ValueError, match="has 1 cells, but there are 2 columns"):
        TableTwin("Throughput (Mbit/s)", ("Attenuation (dB)", "Dome 20"), (("50",),))


def test_an_interval_takes_the_decimals_of_its_value():
    # By hand, halves away from zero.
    assert interval_text(661.5, 738.49, printed="≥ 700") == "662–738"
    assert interval_text(90.05, 106.74, printed="98.4") == "90.1–106.7"


def test_columns_of_words_are_told_from_columns_of_figures():
    rows = (("B1", "45.9", "99 more", "11 of 12 in time; 90 % asked; broke off"), ("48.1", "–", "cannot tell", "–"))
    assert TableTwin("Twin", ("a", "b", "c", "d"), rows).wordy == (True, False, False, True)
    assert TableTwin("Twin", ("a", "b"), (("48.1", "885 (832–938)"),)).wordy == (False, False)
    assert TableTwin("Twin", ("a", "b"), ()).wordy == (False, False)
