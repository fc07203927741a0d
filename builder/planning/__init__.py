"""What to measure next: expected half-widths of cells not yet measured, what they cost, and the plan that pays most.

Asks `bench` and `pairs` for every rule; states none of its own.

    questions   what is asked: sides, group, house, range, and why not
    places      the spots as they are marked today
    forecasts   what the planned cells would give: values and scatter, from the device and its group
    coverage    the range to be covered
    lattices    each spot on each day beside what is measured already, and the half-width of plans over it
    side_cells  the joined line of a side in many versions
    costs       minutes of a run, a spot, a day, a swap
    moves       ways from one plan to others
    searching   the plan that pays most
    promises    what a plan will find, with a range
    plans       the answer to a question
    answers     all of it in words
    schedules   the rows of a plan in the order to be run
    afterwards  mixes and heat behind the single runs
    written     a batch with these rows
"""
