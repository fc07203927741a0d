import random
from itertools import pairwise

import pytest

from builder.charts.theme import text_width
from builder.charts.walls import HANGS, chosen, hung

SIZE, LEADING, STEP = 13.5, 16.0, 42.0
TEXTS = ["same room", "one brick wall", "wooden floor, two brick walls", "far side of the room", "one open door"]


def walls(places, texts, right=784.0):
    return hung(places, texts, size=SIZE, leading=LEADING, step=STEP, left=0.0, right=right)


def box(wall):
    wide = max(text_width(line, SIZE) for line in wall.lines) + HANGS
    left = wall.x - wide if wall.before else wall.x
    return left, wall.top, left + wide, wall.bottom(LEADING)


def test_words_end_before_the_next_line_on_the_highest_step_that_is_free():
    first, second, third = walls([10, 300, 600], ["same room", "one brick wall", "one open door"])
    assert [w.top for w in (first, second, third)] == [0, 0, 0]
    assert not any(w.before for w in (first, second, third))


def test_of_two_spots_too_near_the_right_one_has_the_higher_step():
    left, right = walls([300, 330], ["one brick wall", "one open door"])
    assert (left.top, right.top) == (STEP, 0)


def test_the_last_is_set_left_of_its_line_where_the_frame_ends():
    *_, last = walls([10, 300, 770], ["same room", "one brick wall", "wooden floor, two brick walls"])
    assert last.before
    assert box(last)[2] <= 784


def test_words_take_two_lines_where_they_end_before_the_next_line():
    first, _ = walls([10, 160], ["far side of the room", "one brick wall"])
    assert first.lines == ("far side of", "the room")
    assert first.top == 0


@pytest.mark.parametrize("seed", range(60))
def test_no_words_meet_words_or_lines(seed):
    chance = random.Random(seed)
    count, right = chance.randint(1, 12), chance.choice([784.0, 295.0])
    places = sorted(chance.uniform(5, right - 8) for _ in range(count))
    made = walls(places, [chance.choice(TEXTS) for _ in places], right)
    for number, one in enumerate(made):
        left, top, end, foot = box(one)
        assert left >= 0
        assert end <= right
        for other in made[:number] + made[number + 1 :]:
            l2, t2, r2, b2 = box(other)
            assert end <= l2 or r2 <= left or foot <= t2 or b2 <= top
            # The other's line goes from the top down to its last line of words.
            assert not (left < other.x < end and other.bottom(LEADING) > top)


def test_few_are_left_out():
    chance = random.Random(7)
    shown = wanted = 0
    for _ in range(100):
        places = sorted(chance.uniform(5, 776) for _ in range(8))
        shown += len(walls(places, [chance.choice(TEXTS) for _ in places]))
        wanted += 8
    assert shown >= 0.97 * wanted


def test_a_narrow_drawing_shows_the_first_the_last_and_two_kinds_of_wall():
    texts = [
        "same room",
        "far side of the room",
        "one open door",
        "one plasterboard wall",
        "one brick wall",
        "one brick wall",
        "one brick wall, one door",
        "wooden floor, two brick walls",
    ]
    assert [texts[i] for i in chosen(texts)] == [
        "same room",
        "one plasterboard wall",
        "one brick wall",
        "wooden floor, two brick walls",
    ]
    assert chosen([]) == []
    assert chosen(["a"]) == [0]
    assert chosen(["a", "b"]) == [0, 1]
    assert all(a < b for a, b in pairwise(chosen(texts)))
