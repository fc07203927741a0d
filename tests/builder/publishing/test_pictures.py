"""Published pictures: the pixels, upright, and nothing else."""

import io

import pytest
from PIL import Image as Raster

from builder.publishing.pictures import published_bytes
from catalog.errors import BuildRefused
from catalog.records import Image


def image(path):
    return Image("b", "batch.toml", 1, 1, path, "0" * 64, None, "case", "alt", None)


def encoded(picture, kind, **options):
    stream = io.BytesIO()
    picture.save(stream, kind, **options)
    return stream.getvalue()


def test_metadata_is_gone_and_rotation_applied():
    # Source: Exif 2.3, tag 0x0112 = 6 means the picture is shown turned by 90° clockwise; 0x8825 holds GPS.
    exif = Raster.Exif()
    exif[0x0112] = 6
    exif[0x010F] = "SECRETMAKER"
    exif.get_ifd(0x8825)[29] = "2025:05:12"
    left_red = Raster.new("RGB", (40, 20), (0, 0, 255))
    left_red.paste((255, 0, 0), (0, 0, 20, 20))
    out = published_bytes(encoded(left_red, "JPEG", exif=exif, quality=95), image("a.jpg"))
    shown = Raster.open(io.BytesIO(out))
    assert shown.size == (20, 40)
    assert shown.getpixel((10, 5))[0] > 200  # what was left is on top now
    assert not shown.getexif()
    for secret in (b"SECRETMAKER", b"Exif", b"2025:05:12"):
        assert secret not in out


def test_png_text_is_gone_and_transparency_stays():
    from PIL.PngImagePlugin import PngInfo

    info = PngInfo()
    info.add_text("Comment", "SERIAL 0815")
    out = published_bytes(encoded(Raster.new("RGBA", (8, 8), (1, 2, 3, 0)), "PNG", pnginfo=info), image("a.png"))
    assert b"SERIAL" not in out
    assert Raster.open(io.BytesIO(out)).getpixel((0, 0))[3] == 0


def test_paletted_picture_keeps_its_colours():
    picture = Raster.new("RGB", (8, 8), (200, 30, 60)).convert("P", palette=Raster.Palette.ADAPTIVE)
    out = published_bytes(encoded(picture, "PNG"), image("a.png"))
    assert Raster.open(io.BytesIO(out)).convert("RGB").getpixel((0, 0)) == picture.convert("RGB").getpixel((0, 0))


def test_large_picture_becomes_as_large_as_a_page_needs():
    out = published_bytes(encoded(Raster.new("RGB", (4000, 1000)), "PNG"), image("a.png"))
    assert Raster.open(io.BytesIO(out)).size == (1600, 400)


@pytest.mark.parametrize(("content", "path"), [(b"no picture", "a.png"), (b"<svg/>", "a.svg")])
def test_what_is_no_picture_is_refused_by_name(content, path):
    with pytest.raises(BuildRefused, match=f"The picture {path} of batch b cannot be published"):
        published_bytes(content, image(path))


def test_site_pictures_hold_no_metadata(small_site, demo_site):
    for site in (small_site, demo_site):
        found = list((site / "images").iterdir())
        assert found
        for path in found:
            assert b"SECRETMAKER" not in path.read_bytes()
            assert not Raster.open(path).getexif()
            assert not Raster.open(path).info.get("Comment")
