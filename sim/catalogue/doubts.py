"""What may be doubtful about a weather year: the ids by which a scenario's ``[weather] accept`` confirms it."""

DOUBTS = {
    "clock": "the light comes early or late against the sun",
    "site-far": "the weather was recorded far away",
    "beam-sum": "beam and diffuse do not make up global",
    "beam-none": "there is no beam all year",
    "light-scaled": "cloudless hours are too dark or too bright",
    "light-uneven": "some months are scaled against the others",
    "light-step": "the second half of the year is scaled against the first",
    "light-drift": "the light drifts through the year",
    "light-clipped": "the brightest hours are cut off",
    "light-shaded": "the same hours of the day are dark all year",
    "light-night": "there is light at night",
    "light-smooth": "days are alike as no sky makes them",
    "light-copied": "days are there twice",
    "light-climate": "the year's light is far from that of the world climate",
    "air-sign": "nights are warmer than days",
    "air-cut": "the air ends at 0 degrees",
    "air-flat": "day and night are alike",
    "air-course": "the air does not follow the sun",
    "air-season": "summer comes in winter, or a month is out of line",
    "air-climate": "the air is far from that of the world climate",
}
