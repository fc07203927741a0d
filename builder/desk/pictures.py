"""Pictures as pages ask for them: their sizes are read from their heads, and they are made when a browser wants them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from contextlib import closing
from pathlib import Path

from builder.desk.recent import Recent
from builder.pages.parts.picturing import SMALLER_PX, image_address
from builder.publishing.files.pictures import published_sizes, sizes_of
from catalog import queries
from catalog.connection import open_catalog
from catalog.errors import BuildRefused
from catalog.records import Image

Px = tuple[int, int]


class Pictures(Mapping[str, Px]):
    """Address of each published picture -> its width and height [px], as SiteContext.sizes has them.

    catalog  holds the bytes of what was entered
    folders  batch -> folder of one that was not
    """

    def __init__(self, images: Iterable[Image], *, catalog: Path, folders: Mapping[str, Path]) -> None:
        self._catalog = catalog
        self._folders = folders
        self._images: dict[str, Image] = {}
        self._sizes: dict[str, dict[str, Px]] = {}  # by the address of the largest
        self._made = Recent[str, None]()
        for image in images:
            for width in (None, *SMALLER_PX):
                self._images.setdefault(image_address(image, width), image)

    def __getitem__(self, address: str) -> Px:
        return self._sizes_of(self._images[address])[address]

    def __contains__(self, address: object) -> bool:
        return address in self._images and address in self._sizes_of(self._images[str(address)])

    def __iter__(self) -> Iterator[str]:
        return (address for address in self._images if address in self)

    def __len__(self) -> int:
        return sum(1 for _ in self)

    def published(self, address: str) -> bytes | None:
        """The file at an address; None where there is none. Raises BuildRefused as `published_sizes` does."""
        if address not in self:
            return None
        if (kept := self._made.file(address)) is not None:
            return kept
        image = self._images[address]
        made = published_sizes(self._content(image), image)
        files = dict(zip(self._sizes_of(image), (content for _, content in made), strict=True))
        self._made.keep(image_address(image), files, None)
        return files[address]

    def _sizes_of(self, image: Image) -> dict[str, Px]:
        largest = image_address(image)
        if largest not in self._sizes:
            full, *smaller = sizes_of(self._content(image))
            self._sizes[largest] = {largest: full} | {image_address(image, size[0]): size for size in smaller}
        return self._sizes[largest]

    def _content(self, image: Image) -> bytes:
        if self._catalog.exists():
            with closing(open_catalog(self._catalog, readonly=True)) as db:
                if (content := queries.raw_content(db, image.sha256)) is not None:
                    return content
        if (folder := self._folders.get(image.batch_id)) is not None and (folder / image.path).is_file():
            return (folder / image.path).read_bytes()
        raise BuildRefused(f"The picture {image.path} of batch {image.batch_id} is missing.")
