"""The client's page's sentences that are chosen by what was simulated; they are said in the reader's language."""

from sim.language import mark

ALIKE = (
    mark("Expect the water to run about {most} hours a day in every month."),
    mark("As a first estimate, expect the water to run about {most} hours a day in every month."),
)  # of known weather, and of a coarse climate; so are the next two
NOT_AT_ALL = (
    mark("Expect the water to run about {most} hours a day in {best} and not at all in {worst}."),
    mark("As a first estimate, expect the water to run about {most} hours a day in {best} and not at all in {worst}."),
)
BEST_AND_WORST = (
    mark("Expect the water to run about {most} hours a day in {best} and about {least} hours a day in {worst}."),
    mark(
        "As a first estimate, expect the water to run about {most} hours a day in {best} and about {least} hours a day "
        "in {worst}."
    ),
)
ASKED = mark("You asked for {high} hours a day{window}.")
ASKED_BY_MONTH = mark("You asked for {low} to {high} hours a day, month by month,{window}.")
BETWEEN = mark(" between {begin} and {end}")
IDLE_DAYS = mark("Expect no running at all on about {days} days a year{mostly}.")
LOOKS = mark("It is there to be seen and heard.")
PURPOSE = {  # with fish, with a filter
    (True, True): mark("It is there for the fish and for the filter, which live on moving water."),
    (True, False): mark("It is there for the fish, which live on moving water."),
    (False, True): mark("It is there to be seen and heard, and for the filter, which lives on moving water."),
}
QUIET = mark("Between {begin} and {end} it is quiet.")
BREAK = mark("From {first} to {last} it is switched off for the season: that is planned.")
START_SETTLED = mark("The year begins with the charge that it ends with, {share}.")
START_WRITTEN = mark("The year begins with the charge that was written down for it, {share}.")
START_FOLLOWS = mark("The year begins with the charge that the year before it left, {share}.")
KEPT = (mark("battery"), mark("pump"), mark("cleaning"), mark("water"))
THIN_LINES = mark(
    "Hours a day in a typical year; a thin line is what eight in ten of {years} made-up years lie between in that "
    "month."
)
RECORDED_LINES = mark(
    "Hours a day in a typical year; a thin line is what eight in ten of {years} recorded years lie between in that "
    "month."
)
POOR = mark(
    "In a poor year, one in ten, it runs {less} hours a day on average and meets {poor} of the wanted hours; in a "
    "typical one {mean} and {usual}."
)
POOR_AS_IT_WAS = mark(
    "With the weather of {year}, a poor one of {years} recorded years, it runs {less} hours a day on average and meets "
    "{poor} of the wanted hours; in a typical year {mean} and {usual}."
)
FISH = mark("Fish need a source of air that does not depend on this pump.")
SUMMER_NIGHTS = mark(
    "Fish need a source of air that does not depend on this pump: it stands in the small hours of {still} of {nights} "
    "summer nights, when water holds least air."
)
WARM_NIGHTS = mark(
    "Fish need a source of air that does not depend on this pump: it stands in the small hours of {still} of {nights} "
    "nights with warm water, when water holds least air."
)
WITHOUT_NIGHT = mark("In {month} there is no night.")
EVERY_NIGHT = mark("In {month} it runs from dusk to dawn without a stop in every night.")
NO_NIGHT = mark("In {month} it runs from dusk to dawn without a stop in no night.")
SOME_NIGHTS = mark("In {month} it runs from dusk to dawn without a stop in {share} of the nights.")
TOP_UP = {
    "metric": mark("{amount} litres a week in {month}"),
    "us": mark("{amount} gallons a week in {month}"),
}
FROSTY = mark("here from about {first} to {last}: keep pump and pipe free of ice, or take them out.")
BEYOND = mark(
    "It runs on beyond the hours you asked for whenever the battery allows; sunny months cannot make up for dull ones."
)
FROM_WHEN = (  # six hours each
    mark(", mostly from the night on"),
    mark(", mostly from the morning on"),
    mark(", mostly from the afternoon on"),
    mark(", mostly from the evening on"),
)
MAY_STAND = {
    "Spring": mark("In a typical spring it may stand for up to {long}{from_when}."),
    "Summer": mark("In a typical summer it may stand for up to {long}{from_when}."),
    "Autumn": mark("In a typical autumn it may stand for up to {long}{from_when}."),
    "Winter": mark("In a typical winter it may stand for up to {long}{from_when}."),
}
ALL_IN = {
    "Spring": mark(", all of them in spring"),
    "Summer": mark(", all of them in summer"),
    "Autumn": mark(", all of them in autumn"),
    "Winter": mark(", all of them in winter"),
}
MOST_IN = {
    "Spring": mark(", most of them in spring"),
    "Summer": mark(", most of them in summer"),
    "Autumn": mark(", most of them in autumn"),
    "Winter": mark(", most of them in winter"),
}
# What a stop does to a filter's bacteria; the hours differ between advisers, these are our own defaults
FILTER = (
    (
        24.0,
        mark("Rinse the filter before the pump feeds it again: after a day without flow what lived in it has died."),
    ),
    (6.0, mark("The filter suffers: expect cloudy water for some days afterwards.")),
    (2.0, mark("The filter notices it, but recovers by itself.")),
    (0.0, mark("Too short to harm a filter.")),
)
TYPICAL_WEATHER = mark("one typical year of weather")
COARSE_WEATHER = mark("a coarse climate of the place (light ± 10 % a month, ± 20 % in dull ones)")
FILTER_BY_TIMER = mark("A filter that lives on flowing water does not thrive on such stops every day.")
PRACTICE = mark(
    "The words are those of the trade; local practice decides. Of a report, this page, the findings, the commissioning "
    "sheet and the cautions are translated; the rest is in English."
)
