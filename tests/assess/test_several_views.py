"""The rendered sample sets: photos and marks in, dots in space out, held against the truth."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from assess.marks import CardShift, Marks
from assess.measure import read_photos
from assess.read_marks import parse_marks
from assess.several_views import lens_name, several_views
from assess.space import in_space, placement_in_space
from calibration.draws import Draws
from calibration.lens import lens_prior
from calibration.photo import CaptureFacts, Photo, read_photo
from calibration.views import ViewsSolved

SAMPLES = Path(__file__).parents[2] / "sample_images"
DRAWS = Draws(1, 20_000)
FACTS = CaptureFacts(2000, 1500, "Invented Optics", "Sample 12", focal_35mm=37.0)
