"""Help with marking: pen dots and rim contours found near a few taps.  Pure, no ears' measures."""
