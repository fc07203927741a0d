"""Articles become HTML that can do no harm, fits below a page's own question, and marks where bindings stood."""

import pytest

from builder.articles.markdown_text import MARK, marked_html


def html(text):
    return marked_html(text).html


@pytest.mark.parametrize(
    "text",
    [
        "<script>alert(1)</script>",
        '<img src=x onerror="alert(1)">',
        "[x](javascript:alert(1))",
        '<a href="javascript:alert(1)">x</a>',
        '<p style="position:fixed">x</p>',
        '<iframe src="https://example.org"></iframe>',
        '<form action="https://example.org"><input></form>',
        "<style>p { color: red }</style>",
        '<a href="data:text/html,<script>alert(1)</script>">x</a>',
    ],
)
def test_what_could_run_fetch_or_disguise_is_gone(text):
    # Source: OWASP, "Cross Site Scripting Prevention" (from memory): scripts, handlers, script and data addresses.
    made = html(text)
    for trace in ("script", "alert", "onerror", "style", "iframe", "form", "input", "data:"):
        assert trace not in made, made


def test_headings_move_below_the_question():
    assert "<h2>One</h2>" in html("# One")
    assert "<h3>Two</h3>" in html("## Two")
    assert "<h6>Six</h6>" in html("###### Six")


def test_tables_get_a_box_that_scrolls_and_scopes():
    made = html("| a | b |\n|---|---|\n| 1 | 2 |")
    assert made.startswith('<div class="scroll" tabindex="0" role="group"')
    assert '<th scope="col">a</th>' in made


def test_outward_links_stay_and_tell_nobody_where_they_came_from():
    assert 'href="https://example.org/"' in html("[x](https://example.org/)")
    assert 'rel="noopener nofollow"' in html("[x](https://example.org/)")


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("which `x`?", "which x?"),
        ("``a`b`` & `1 < 2`, <i>so</i>?", "a`b & 1 < 2, <i>so</i>?"),
        (r"the \*best\*, 3\_4?", "the *best*, 3_4?"),
        ("[the page](https://example.org) `of` it?", "the page of it?"),
        ("`a [link](x)`?", "a [link](x)?"),
        ("[a `code` link](https://example.org)?", "a code link?"),
    ],
)
def test_the_words_of_a_binding_are_text(typed, read):
    """Whatever the Markdown reader took out before it came to the binding stands there again."""
    marked = marked_html(f"Before\n(= lines a b : {typed} =)")
    assert [inside for _, inside in marked.bindings.values()] == [f" lines a b : {read} "]
    assert marked.lost == ()


def test_bindings_are_found_with_the_line_they_begin_at():
    marked = marked_html(
        "# Head\n\nOne (= value a_b_c,\nat 60 =) two.\n\n- in a list (= verdict x y =)\n\n| a |\n|---|\n| (= z =) |"
    )
    assert marked.bindings == {0: (3, " value a_b_c,\nat 60 "), 1: (6, " verdict x y "), 2: (10, " z ")}
    assert len(MARK.findall(marked.html)) == 3
    assert marked.lost == ()


@pytest.mark.parametrize(
    "code", ["`(= value a =)`", "    (= value a =)", "```\n(= value a =)\n```", "~~~\n(= a =)\n~~~"]
)
def test_code_is_left_as_it_was_typed(code):
    marked = marked_html(f"Text.\n\n{code}\n")
    assert (marked.bindings, marked.lost) == ({}, ())
    assert code.strip("`~ \n") in marked.html


@pytest.mark.parametrize(
    "text",
    [
        "x\n\nHere (= value a",
        "x\n\n<div>(= value a =)</div>",
        "x\n\n[(= value a =)](https://example.org/)",
        "x\n\nHere (= value a\n\nand =) later",
    ],
)
def test_what_is_never_read_is_named_by_its_line(text):
    assert marked_html(text).lost == (3,)


def test_ordinary_brackets_are_no_bindings():
    marked = marked_html("f(x)=y, (=) and (= 3 apples =)")
    assert (marked.bindings, marked.lost) == ({}, ())
