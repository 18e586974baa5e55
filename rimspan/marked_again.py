"""Photos that were marked again: kept for the piercer's past, and measured by their means."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from assess.passes import mark_samples, measured_entry, piercers
from assess.reading import PhotoReading
from assess.repeatability import MarkUncertainty, mark_uncertainty, pooled_scatter
from rimspan.clientfile import ClientFile


def keep_passes(
    file: ClientFile,
    client_id: str,
    photo: Mapping[str, Any],
    reading: PhotoReading,
    *,
    offset_mm: float = 0.0,
    before: Mapping[str, Any] | None = None,
) -> None:
    """Keep the passes of a draft's photo as they stand now; the same ones again change nothing.

    Without a pose in the photo there are no millimetres, and what was kept is left as it is.

    Parameters
    ----------
    before : the photo's part before a change; whose passes were taken back since, keeps none
    """
    if reading.fit is None:
        return
    digest = str(photo["x_sha256"])
    samples = mark_samples(photo, reading, name=digest, offset_mm=offset_mm)
    for by in dict.fromkeys([*piercers(before or {}), *piercers(photo)]):
        own = [sample for sample in samples if sample.by == by]
        file.repeats.save(client_id, digest, by, own)


def own_uncertainty(file: ClientFile, by: str) -> MarkUncertainty:
    """Return the uncertainty of a piercer's marks, from all the repeats that were kept."""
    return mark_uncertainty(pooled_scatter(file.repeats.samples(by.strip())))


def measured_photo(
    file: ClientFile,
    photo: Mapping[str, Any],
    reading: PhotoReading,
    *,
    offset_mm: float = 0.0,
    known: MarkUncertainty | None = None,
) -> dict[str, Any]:
    """Return a draft's photo as it goes into the marks file: mean points and their ``sigma_px``.

    Parameters
    ----------
    known : what :func:`own_uncertainty` says of whoever made the first marks; looked up if None
    """
    names = piercers(photo)
    if known is None:
        known = own_uncertainty(file, names[0]) if names else mark_uncertainty(None)
    return measured_entry(photo, reading, known, offset_mm=offset_mm)
