"""Published pictures: the pixels, upright, and nothing else."""

import io
import shutil

import pytest
from PIL import Image as Raster

from builder.pages.parts.picturing import image_address
from builder.publishing.checking.leaks import leaks
from builder.publishing.checking.secrets_sought import Sought
from builder.publishing.files.pictures import published_sizes
from catalog.entering import enter_batch
from catalog.errors import BuildRefused
from catalog.reading.pictures import decoded
from catalog.records import Image
from tests.builder.publishing.publishing_bench import ENTERED, batch, broken_links


def image(path):
    return Image("b", "batch.toml", 1, 1, path, "0" * 64, None, "case", "alt", None)


def encoded(picture, kind, **options):
    stream = io.BytesIO()
    picture.save(stream, kind, **options)
    return stream.getvalue()


def published_bytes(content, picture):
    """The largest size."""
    return published_sizes(content, picture)[0][1]


def sizes(content, picture):
    return [size for size, _ in published_sizes(content, picture)]


@pytest.mark.parametrize(
    ("came", "published"),
    [
        ((4000, 2000), [(1600, 800), (960, 480), (480, 240)]),
        ((1000, 4000), [(400, 1600)]),
        ((700, 350), [(700, 350), (480, 240)]),
        ((480, 100), [(480, 100)]),
        ((3, 2000), [(2, 1600)]),
    ],
)
def test_sizes_are_made_smaller_and_never_larger(came, published):
    # By hand: the longest side is at most 1600; 480 and 960 wide only of what is wider.
    for path, kind in (("a.jpg", "JPEG"), ("a.png", "PNG"), ("a.webp", "WEBP")):
        content = encoded(Raster.new("RGB", came, (9, 99, 199)), kind)
        assert sizes(content, image(path)) == published
        made = published_sizes(content, image(path))
        assert made == published_sizes(content, image(path))
        for size, out in made:
            shown = Raster.open(io.BytesIO(out))
            assert (shown.size, shown.format) == (size, kind)
            assert abs(shown.convert("RGB").getpixel((size[0] // 2, size[1] // 2))[2] - 199) < 6


def test_every_size_is_upright_and_bare():
    # Source: Exif 2.3, tag 0x0112 = 8 means the picture is shown turned by 90° counter-clockwise.
    exif = Raster.Exif()
    exif[0x0112] = 8
    exif[0x010F] = "SECRETMAKER"
    right_red = Raster.new("RGB", (1000, 2000), (0, 0, 255))
    right_red.paste((255, 0, 0), (500, 0, 1000, 2000))
    made = published_sizes(encoded(right_red, "JPEG", exif=exif), image("a.jpg"))
    assert [size for size, _ in made] == [(1600, 800), (960, 480), (480, 240)]
    for (width, height), out in made:
        shown = Raster.open(io.BytesIO(out))
        assert shown.getpixel((width // 2, height // 8))[0] > 200  # what was right is on top now
        assert not shown.getexif()
        assert b"SECRETMAKER" not in out


def test_a_clear_palette_stays_clear_in_every_size():
    picture = Raster.new("P", (1000, 20))
    picture.putpalette([1, 2, 3] * 256)
    for _, out in published_sizes(encoded(picture, "PNG", transparency=0), image("a.png")):
        assert Raster.open(io.BytesIO(out)).convert("RGBA").getpixel((0, 0))[3] == 0


@pytest.mark.parametrize("path", ["a.png", "a.jpg", "a.webp"])
@pytest.mark.parametrize(
    ("mode", "kind", "colour"),
    [
        ("I;16", "PNG", 40_000),
        ("CMYK", "JPEG", (0, 0, 0, 99)),
        ("LA", "PNG", (156, 255)),
        ("1", "PNG", 1),
        ("L", "JPEG", 156),
    ],
)
def test_what_check_takes_is_published_in_every_format(path, mode, kind, colour):
    content = encoded(Raster.new(mode, (500, 40), colour), kind)
    decoded(content)
    for size, out in published_sizes(content, image(path)):
        shown = Raster.open(io.BytesIO(out)).convert("L")
        assert shown.size == size
        assert abs(shown.getpixel((5, 5)) - (255 if mode == "1" else 156)) < 30  # 40,000 of 65,535 is 156 of 255


def test_a_picture_too_large_is_refused_in_the_words_of_check(monkeypatch):
    monkeypatch.setattr("catalog.reading.pictures.MAX_PIXELS", 10**6)
    with pytest.raises(BuildRefused) as refusal:
        published_sizes(encoded(Raster.new("RGB", (1001, 1000)), "PNG"), image("a.png"))
    assert str(refusal.value) == (
        "The picture a.png of batch b cannot be published. The picture has more than 1 million pixels. "
        "Export it smaller: 8000 × 6000 is more than any page shows."
    )


def test_pages_name_every_size_and_the_checks_see_them(small_file, build, tmp_path):
    # A picture of 1000 px in a batch of its own: 960 and 480 beside it.
    catalog = shutil.copy(small_file, tmp_path / "catalog.db")
    more = """[[image]]
file = "images/lid.jpg"
device = "quillmast-sill"
kind = "case"
alt = "The lid from above"
[[article]]
id = "lid"
title = "The lid"
published = "2025-09-01T10:00:00Z"
file = "articles/lid.md"
devices = ["quillmast-sill"]
"""
    place = batch(tmp_path, "lid", more=more)
    for name in ("images", "articles"):
        (place / name).mkdir()
    (place / "articles" / "lid.md").write_text("![](../images/lid.jpg)\n", encoding="utf-8")
    exif = Raster.Exif()
    exif[0x010F] = "SECRETMAKER"
    (place / "images" / "lid.jpg").write_bytes(encoded(Raster.effect_noise((1000, 500), 60), "JPEG", exif=exif))
    enter_batch(place, into=catalog, now=ENTERED)
    site = tmp_path / "site"
    build(catalog, site)
    made = sorted(p.name for p in (site / "images").iterdir() if p.suffix == ".jpg")
    stem = made[-1].removesuffix(".jpg")
    assert made == [f"{stem}-480.jpg", f"{stem}-960.jpg", f"{stem}.jpg"]
    for page in (site / "reviews" / "lid" / "index.html", site / "devices" / "quillmast-sill" / "index.html"):
        text = page.read_text(encoding="utf-8")
        named = ", ".join(f"../../images/{stem}{end}.jpg {w}w" for end, w in (("-480", 480), ("-960", 960), ("", 1000)))
        assert f'srcset="{named}"' in text
        assert 'alt="The lid from above" width="1000" height="500"' in text
    assert broken_links(site) == []
    assert leaks(site, Sought(())) == []
    for name in made:  # a camera's notes in any one size are found
        path = site / "images" / name
        whole = path.read_bytes()
        path.write_bytes(encoded(Raster.open(io.BytesIO(whole)), "JPEG", exif=exif))
        assert {leak.file for leak in leaks(site, Sought(()))} == {f"images/{name}"}
        path.write_bytes(whole)
    (site / "images" / f"{stem}-480.jpg").unlink()
    assert {str(link) for link in broken_links(site)} == {
        f"{page} links to ../../images/{stem}-480.jpg: there is no such file"
        for page in ("devices/quillmast-sill/index.html", "reviews/lid/index.html", "reviews/a-b-review/index.html")
    }  # the other review is about the device, too


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


@pytest.mark.parametrize("kind", ["PNG", "JPEG", "WEBP"])
def test_no_block_of_metadata_is_left(kind):
    # Sources: JPEG APP1/APP13 segments (ITU-T T.81, B.2.4.6; XMP part 3, section 1.1.3), PNG chunks (ISO/IEC 15948),
    # WebP chunks (RFC 9649): none of those that may carry EXIF, XMP, IPTC, a profile or a comment is in what is published.
    from PIL import ImageCms
    from PIL.PngImagePlugin import PngInfo

    exif = Raster.Exif()
    exif[0x0112] = 3
    exif.get_ifd(0x8825)[2] = (52.0, 31.0, 12.0)  # GPS latitude
    options = {
        "exif": exif,
        "xmp": b"<x:xmpmeta xmlns:x='adobe:ns:meta/'>NEIGHBOUR-NET</x:xmpmeta>",
        "icc_profile": ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes(),
    }
    if kind == "PNG":
        info = PngInfo()
        info.add_itxt("XML:com.adobe.xmp", "NEIGHBOUR-NET")
        options = options | {"pnginfo": info}
        del options["xmp"]
    if kind == "JPEG":
        options["comment"] = b"SERIAL 0815"
    picture = Raster.new("RGB", (40, 20), (0, 0, 255))
    picture.paste((255, 0, 0), (0, 0, 20, 20))
    content = encoded(picture, kind, **options)
    if kind == "JPEG":  # an APP13 block with an IPTC record, put in behind the start of the image
        iptc = b"Photoshop 3.0\x008BIM\x04\x04\x00\x00\x00\x00\x00\x0c\x1c\x02\x69\x00\x07KEYWORD"
        content = content[:2] + b"\xff\xed" + (len(iptc) + 2).to_bytes(2) + iptc + content[2:]
    for planted in (b"NEIGHBOUR-NET", b"SERIAL 0815", b"KEYWORD")[: 3 if kind == "JPEG" else 1]:
        assert planted in content  # else the test could not fail
    out = published_bytes(content, image(f"a.{kind.lower()}"))
    shown = Raster.open(io.BytesIO(out))
    assert shown.convert("RGB").getpixel((35, 10))[0] > 200  # turned by 180 degrees: red is on the right
    assert not shown.getexif()
    assert {"icc_profile", "exif", "xmp", "comment", "photoshop"} & set(shown.info) == set()
    for trace in (
        b"NEIGHBOUR",
        b"SERIAL",
        b"KEYWORD",
        b"Exif",
        b"eXIf",
        b"EXIF",
        b"XMP ",
        b"iTXt",
        b"iCCP",
        b"ICCP",
        b"8BIM",
        b"ICC_PROFILE",
        b"ns.adobe.com",
    ):
        assert trace not in out, trace


def test_colours_of_another_profile_arrive_as_they_were_meant():
    # A profile in which red and green have changed places, made by hand: "green" there is red in sRGB. ICC.1:2010 7.2:
    # the tags of a matrix profile are rXYZ, gXYZ and bXYZ.
    from PIL import ImageCms

    swapped = bytearray(ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes())
    red, green = swapped.index(b"rXYZ"), swapped.index(b"gXYZ")
    swapped[red : red + 4], swapped[green : green + 4] = b"gXYZ", b"rXYZ"
    picture = encoded(Raster.new("RGB", (8, 8), (0, 255, 0)), "PNG", icc_profile=bytes(swapped))
    shown = Raster.open(io.BytesIO(published_bytes(picture, image("a.png")))).getpixel((4, 4))
    assert shown[0] > 200
    assert shown[1] < 60


@pytest.mark.parametrize(("path", "kind"), [("a.txt", "PNG"), ("a.jpg", "JPEG"), ("a.png", "PNG"), ("A.JPEG", "JPEG")])
def test_bytes_decide_what_is_read_and_the_name_what_is_written(path, kind):
    out = published_bytes(encoded(Raster.new("RGBA", (8, 8), (1, 2, 3, 0)), "PNG"), image(path))
    assert Raster.open(io.BytesIO(out)).format == kind
    assert image_address(image(path)).endswith({"PNG": ".png", "JPEG": path[1:].lower()}[kind])


@pytest.mark.parametrize(("content", "path"), [(b"no picture", "a.png"), (b"<svg/>", "a.svg"), (b"GIF89a", "a.png")])
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


def test_a_photo_that_is_known_is_there_for_the_article_of_a_later_batch(small_file, build, tmp_path):
    lid = '[[image]]\nfile = "images/{}.png"\ndevice = "quillmast-sill"\nkind = "case"\nalt = "The lid"\n'
    article = """[[article]]
id = "lid"
title = "The lid"
published = "2025-09-01T10:00:00Z"
file = "articles/lid.md"
devices = ["quillmast-sill"]
"""
    catalog = shutil.copy(small_file, tmp_path / "catalog.db")
    picture = encoded(Raster.new("RGB", (40, 30), (9, 99, 199)), "PNG")
    for name, more in (("first-lid", lid.format("one")), ("later-lid", lid.format("two") + article)):
        place = batch(tmp_path, name, more=more)
        (place / "images").mkdir()
        (place / "articles").mkdir()
        (place / "images" / ("two.png" if "two" in more else "one.png")).write_bytes(picture)
        (place / "articles" / "lid.md").write_text("![](../images/two.png)\n", encoding="utf-8")
        enter_batch(place, into=catalog, now=ENTERED)
    site = tmp_path / "site"
    build(catalog, site)
    for page in ("reviews/lid", "devices/quillmast-sill"):
        text = (site / page / "index.html").read_text(encoding="utf-8")
        assert text.count('alt="The lid"') == 1, page  # there, and once


def test_a_photo_alone_that_is_known_is_nothing_new(small_file, tmp_path):
    catalog = shutil.copy(small_file, tmp_path / "catalog.db")
    picture = encoded(Raster.new("RGB", (40, 30), (9, 99, 199)), "PNG")
    more = '[[image]]\nfile = "lid.png"\ndevice = "quillmast-sill"\nkind = "case"\nalt = "The lid"\n'
    for name, entered_in in (("first-lid", None), ("again-lid", "first-lid")):
        place = batch(tmp_path, name, more=more)
        (place / "lid.png").write_bytes(picture)
        assert enter_batch(place, into=catalog, now=ENTERED).already_entered == entered_in
