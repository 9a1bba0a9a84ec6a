"""A sheet as it is written just now, as if its files lay somewhere: to hand it on unsaved."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path

from shopguide.errors import Trouble
from shopguide.job.packing import MOST_PICTURE_BYTES, Packing


class WrittenPacking:
    """job.json in memory; pictures where they lie, or where they wait to be saved."""

    def __init__(
        self, raw: bytes, path: Path, waiting: Mapping[str, Path], lying: Packing | None
    ) -> None:
        """path: the sheet's folder or title, for troubles; lying: what was saved of it."""
        self.path = path
        self._raw, self._waiting, self._lying = raw, dict(waiting), lying

    def read_sheet(self) -> bytes:
        """The bytes of job.json as it would be saved."""
        return self._raw

    @contextmanager
    def look_into(self, name: str) -> Iterator[bytes]:
        """The bytes of one picture, of which no more are read than it may have."""
        path = self._waiting.get(name)
        if path is not None:
            try:
                with path.open("rb") as file:
                    data = file.read(MOST_PICTURE_BYTES + 1)
            except OSError as fault:
                raise Trouble(
                    f"{name} cannot be read: {fault.strerror or 'no reason given'}.",
                    str(path),
                    "Take the picture out of the step and add it again.",
                ) from None
            yield data
        elif self._lying is None:
            raise Trouble(f"{name} is not there.", next="Add the picture again.")
        else:
            with self._lying.look_into(name) as found:
                yield found

    def photo_path(self, name: str) -> Path | None:
        """The picture's own path; None where it lies in a zip."""
        path = self._waiting.get(name)
        if path is None and self._lying is not None:
            path = self._lying.photo_path(name)
        return path
