"""Figures and pictures of an article: what they show, and what is refused by its line."""

from dataclasses import dataclass

import pytest

from builder.pages.contents import compose, load_contents
from builder.pages.parts.looked_up import evidence_of
from builder.pages.review import review_page
from catalog.visibility import public_copy
from tests.builder.articles.conftest import NOW, bound_to, sentences

A, B = "quillmast-dome-20", "tessarik-shale-2"


def figures(bound):
    assert sentences(bound) == []
    return [part.figure for part in bound.passages if part.figure]


def test_lines_split_the_text_and_say_the_verdict(read):
    bound = read("01-partial-overlap", text=f"Before.\n\n(= lines {A} {B} =)\n\nAfter.")
    (figure,) = figures(bound)
    assert [part.html.strip() for part in bound.passages] == ["<p>Before.</p>", "<p>After.</p>"]
    assert figure.title == "Which gives more in the same place, Dome 20 or Shale 2?"
    assert figure.spoken.startswith("These tests cannot tell Dome 20 and Shale 2 apart")
    assert figure.shared == (55, 75)  # by hand, story 1


def test_one_line_tells_how_it_fades_and_a_question_may_be_the_authors(read):
    (figure,) = figures(read("01-partial-overlap", text=f"(= lines {A} : And through two walls? =)"))
    assert figure.title == "And through two walls?"
    assert figure.spoken == "It goes from 900 Mbit/s at 50 dB to 100 Mbit/s at 80 dB, over 4 measured places."


def test_three_lines_say_their_means_where_all_were_tested(read):
    # Story 4 at 50 to 70 dB, read from the drawn line: the Dome holds a bound, so its mean is "at least".
    text = f"(= lines {A} tessarik-porch fjeldrun-alcove =)"
    (figure,) = figures(read("04-capped-client", text=text))
    assert figure.spoken.startswith("Over ")
    assert "Dome 20 ≥ " in figure.spoken
    assert figure.shared is not None


def test_a_ranking_says_who_leads(read):
    (figure,) = figures(read("09-public", text="(= ranking window middle =)"))
    assert figure.window == "middle"
    assert "Quillmast Dome 20 gives 800 Mbit/s and leads every other device" in figure.spoken


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (f"See (= lines {A} {B} =) here.", "A figure stands in a paragraph of its own."),
        (f"(= lines {A} {A} =)", "A line is asked for twice."),
        (f"(= lines {A} : Bigger is better =)", "is a question and ends with “?”"),
        (f"(= lines {A} =)\n\n(= lines {A} =)", "This figure stands in the article already."),
        ("(= ranking =)", "A ranking needs a window"),
        ("(= ranking window far =)", "no device covers the whole window"),
        ("(= ranking window far, band 6 =)", "has no results under band 6"),
        ("(= lines nobody =)", "There is no device 'nobody'"),
    ],
)
def test_refused_figures(read, text, words):
    assert words in " ".join(sentences(read("01-partial-overlap", text=text)))


def test_lines_of_a_pair_that_shares_no_range_are_drawn_and_say_so(read):
    # Story 3: no difference, but both lines may be looked at.
    (figure,) = figures(read("03-no-shared-range", text="(= lines quillmast-sill tessarik-porch =)"))
    assert figure.spoken.startswith("No shared range: Sill was tested at 45–60 dB, Porch at 65–80 dB")
    assert figure.shared is None


@dataclass(frozen=True)
class Placed:
    href: str = "../../images/x.png"
    alt: str = "Two <ports>"
    credit: str = ""
    width: str = "40"
    height: str = "20"
    sources: str = ""


def test_picture_is_placed_with_its_registered_words(read):
    text = "![typed words](../images/ports.png) ![from the batch](images/ports.png)"
    bound = read("01-partial-overlap", text=text, pictures={"images/ports.png": Placed(credit="The <desk>")})
    (part,) = bound.passages
    assert part.html.count('<img src="../../images/x.png" alt="Two &lt;ports&gt;" width="40" height="20">') == 2
    assert "The &lt;desk&gt;" in part.html
    assert "typed words" not in part.html


@pytest.mark.parametrize("name", ["../images/gone.png", "https://example.org/p.png", "images/mute.png"])
def test_picture_nobody_described_is_refused_by_its_line(read, name):
    bound = read(
        "01-partial-overlap", text=f"One.\n\n![a drawing]({name})", pictures={"images/mute.png": Placed(alt=" ")}
    )
    (problem,) = sentences(bound)
    assert problem.startswith(f"first/articles/r.md line 3: The picture {name} is not in the batch, or has no words")


def test_a_ranking_in_an_article_says_what_it_was_measured_with(catalog):
    # On its own page the heading says it; in an article and on a still the chart has to.
    contents = load_contents(public_copy(catalog("09-public"), as_of=NOW), as_of=NOW, sizes={})
    bound = bound_to(compose(evidence_of, contents), "(= ranking window middle =)")
    (drawing,) = compose(review_page, contents, bound).drawings
    assert drawing.figure.notes == (
        "4 streams, 5 GHz, 80 MHz, download (Skarn R2). Mean over the window, 95 % interval.",
    )
    assert not drawing.own_table
