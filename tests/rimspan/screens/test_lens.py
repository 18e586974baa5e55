"""The Lens page, and a kept profile in use: measured with it, saved with it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from calibration.photo import read_photo
from rimspan.lens_profiles import _taken, forget_profile, keep_profile
from tests.rimspan.test_lens_profiles import by_phone


def profile_of(data: bytes) -> dict[str, Any]:
    """Return a made-up profile for the phone of a photo."""
    facts = read_photo(data).facts
    return {
        "format": "rimspan-camera/1",
        "camera": {
            "fx": 1550.0,
            "fy": 1550.0,
            "cx": 800.0,
            "cy": 600.0,
            "dist": [0.01],
            "u_f_rel": 0.003,
        },
        "taken_with": {**_taken(facts), "model": facts.model or "Sample 12"},
        "photos": 5,
    }


def test_an_empty_page_says_how_to_make_a_profile(visit: Any) -> None:
    words = visit.open("lens").words
    assert visit.title == "Lens and accuracy"
    assert "No lens profile yet" in words
    assert "tilted about 30 degrees" in words
    assert "Test your own accuracy on a table" in "\n".join(
        str(s.value) for s in visit.at.subheader
    )


def test_a_kept_profile_is_listed_and_can_be_given_up(visit: Any, flat_photo: bytes) -> None:
    keep_profile(visit.file, profile_of(flat_photo))
    assert "focal length 1550 px, u 0.3 % in use, from 5 photos" in visit.open("lens").words
    visit.at.button(key="forget lens 0").click().run()
    assert "No lens profile yet" in visit.words


def test_the_card_page_leads_there(visit: Any) -> None:
    visit.open("card")
    assert not visit.at.exception


def test_a_kept_profile_measures_the_photo_of_its_phone_and_says_so(
    visit: Any, flat_draft: Callable[[str], dict]
) -> None:
    data = by_phone((4.0, 0.0))
    keep_profile(visit.file, profile_of(data))
    visit.consult()
    kept = visit.file.add_photo(visit.client, data, "flat.jpg", "left")
    visit.file.save_draft(visit.client, "left", flat_draft(kept.sha256))
    words = visit.open("answer").words
    assert "flat.jpg: measured with the lens profile of Invented Optics Sample 12." in words
    assert 'aria-label="Placement' in words  # and both drawings stand there
    assert "See it" in words


def test_a_zoomed_photo_of_the_same_phone_is_measured_without_it(
    visit: Any, flat_draft: Callable[[str], dict]
) -> None:
    data = by_phone((4.0, 0.0))
    profile = profile_of(data)
    profile["taken_with"]["focal_35mm"] = 13.0
    keep_profile(visit.file, profile)
    visit.consult()
    kept = visit.file.add_photo(visit.client, data, "flat.jpg", "left")
    visit.file.save_draft(visit.client, "left", flat_draft(kept.sha256))
    words = visit.open("answer").words
    assert "isn't used, as the photo has another focal length" in words
    assert "measured with the lens profile" not in words


def test_the_photos_page_says_which_lens_each_photo_is_measured_with(
    visit: Any, flat_draft: Callable[[str], dict]
) -> None:
    data = by_phone((4.0, 0.0))
    visit.consult()
    kept = visit.file.add_photo(visit.client, data, "flat.jpg", "left")
    visit.file.save_draft(visit.client, "left", flat_draft(kept.sha256))
    assert "lens profile" not in visit.open("photos").words  # none is kept: nothing to say
    keep_profile(visit.file, profile_of(data))
    words = visit.open("photos").words
    assert "flat.jpg: measured with the lens profile of Invented Optics Sample 12." in words
    zoomed = profile_of(data)
    zoomed["taken_with"]["focal_35mm"] = 13.0
    forget_profile(visit.file, profile_of(data)["taken_with"])
    keep_profile(visit.file, zoomed)
    assert "isn't used, as the photo has another focal length" in visit.open("photos").words
