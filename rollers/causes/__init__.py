"""Which roller, and is tape the medicine: sightings, line walks, cause sheets, studies. Above the core of rollers."""
