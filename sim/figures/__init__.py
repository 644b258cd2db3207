"""From a log to figures: measures, causes, stress, availability, wiring and water. Pure: nothing here simulates."""
