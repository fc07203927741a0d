"""The list of a site's pages: what each is, and where it lies, without making it."""

from contextlib import closing

from builder.publishing.changing.touched import contents_of
from builder.publishing.making.page_list import KINDS, all_pages
from catalog.visibility import public_copy


def test_a_task_knows_where_its_page_will_lie(demo_file, demo_instant):
    with closing(public_copy(demo_file, as_of=demo_instant)) as copy:
        demo = contents_of(copy, as_of=demo_instant)
    dated = {("quillmast-lantern", "2026-06-30T12:00:00Z"): ()}
    tasks = all_pages(demo.catalogue, demo.results, dated=dated)
    assert [(task.kind, task.address) for task in tasks] == [(task.kind, task.page(demo).address) for task in tasks]
    # Pages that only lead on lie where another one did, or behind a code.
    leading_on = {name for name, kind in KINDS.items() if kind.address is None}
    assert leading_on == {"former", "framed", "short"}
    assert {task.kind for task in tasks} == set(KINDS) - leading_on - {"data"}
