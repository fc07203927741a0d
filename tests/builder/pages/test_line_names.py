"""What lines of a chart are called: never two the same, whatever the names of makers and models."""

from dataclasses import replace

import pytest

from builder.bench.bench import cells_of_subject, subject_named
from builder.bench.tracks import track
from builder.pages.parts.line_names import line_names


def names(lab, *typed, models=None):
    """Names from the longest to the shortest, as text, of lines typed as "device" or "device@firmware"."""
    for one in dict.fromkeys(typed):
        device, _, firmware = one.partition("@")
        lab.add(device, [(50, [900, 903]), (60, [700, 703])], firmware=firmware or "1.0")
    bench = lab.bench()
    if models:
        devices = {
            key: replace(device, maker=models[key][0], model=models[key][1]) for key, device in bench.devices.items()
        }
        bench = replace(bench, devices=devices)
    tracks = [track(cells_of_subject(bench, subject_named(bench, one)), match="attenuation") for one in typed]
    return [[name.text for name in forms] for forms in line_names(bench, tracks)]


def test_maker_and_model_then_the_model_then_its_last_word(lab):
    models = {"a": ("Tessarik", "Cupola"), "b": ("Quillmast", "Sill Outdoor")}
    assert names(lab, "a", "b", models=models) == [
        ["Tessarik Cupola", "Cupola"],
        ["Quillmast Sill Outdoor", "Sill Outdoor", "Outdoor"],
    ]


def test_a_number_alone_is_no_name(lab):
    models = {"a": ("Polmerre", "Rondel 4"), "b": ("Polmerre", "New Rondel 6")}
    assert [forms[-1] for forms in names(lab, "a", "b", models=models)] == ["Rondel 4", "Rondel 6"]


def test_where_last_words_are_equal_there_is_more_of_the_name(lab):
    models = {"a": ("Tessarik", "Sill Outdoor"), "b": ("Quillmast", "Dome Outdoor"), "c": ("Polmerre", "Low")}
    assert [forms[-1] for forms in names(lab, "a", "b", "c", models=models)] == ["Sill Outdoor", "Dome Outdoor", "Low"]


def test_models_of_two_makers_with_one_name_keep_their_makers(lab):
    models = {"a": ("Tessarik", "Dome"), "b": ("Quillmast", "Dome")}
    assert [forms[-1] for forms in names(lab, "a", "b", models=models)] == ["Tessarik Dome", "Quillmast Dome"]


def test_a_device_that_stands_twice_has_its_firmware(lab):
    models = {"a": ("Tessarik", "Cupola"), "b": ("Quillmast", "Dome")}
    forms = names(lab, "a@1.0", "a@2.0", "b", models=models)
    assert [one[-1] for one in forms] == ["Cupola, 1.0", "Cupola, 2.0", "Dome"]


@pytest.mark.parametrize("models", [{"a": ("T", "X Y 1"), "b": ("T", "Z Y 1")}, {"a": ("T", "1"), "b": ("T", "2 1")}])
def test_no_form_names_two_lines_alike(lab, models):
    forms = names(lab, "a", "b", models=models)
    for i in range(max(map(len, forms))):
        said = [one[min(i, len(one) - 1)] for one in forms]
        assert len(set(said)) == len(said)
