"""What every report ends with: what its figures rest on, the weather with its source and licence, and the cautions."""

from sim.report.blocks import Heading, Points, Table, Words, words
from sim.report.section import Section
from sim.scenario import Scenario
from sim.studies.result import YearResult
from sim.units import Quantity, in_full
from sim.weather import Weather

ONE_YEAR = (
    "One year of weather stands for all years. A typical year leaves out the bad ones: a real winter can be duller."
)
MANY_YEARS = (
    "The years differ as chance makes days differ; their climate is the same in all of them, and nothing is said of a "
    "changing one."
)
ALWAYS = (
    "Weather is known hour by hour; clouds that pass within an hour are averaged. Switching within the hour is "
    "followed exactly.",
    "The battery is new and has its rated capacity all year; several years in a row show how it fades. Where the "
    "chemistry has it, the rest voltage stands higher after charging than after discharging.",
    "Charge here is what the simulation counted, not a reading. A voltage read on site gives an estimated charge band "
    "only.",
    "Shade is by azimuth and elevation, or by the clock, on the panel as a whole unless strings of cells are named; a "
    "shadow on a few cells costs more than its area. A crown lets the mean of its month through.",
)
RAIN = "Rain falls on the pond's own area, and a full pond runs over; splash is left out"
HIDDEN = (
    "Between about a third and nine tenths of its charge, a lithium iron phosphate battery rests within a few "
    "tenths of a volt, so the thresholds act on how far the pump's current and the charging current move the "
    "voltage more than on the charge itself. Small errors in resistance, or in the controller's reading, move stops "
    "and restarts by hours."
)


def section(result: YearResult) -> Section:
    """Assumptions and weather of a single year."""
    year = result.measures
    return closing(result.scenario, result.weather, litres=year.water is not None, table=(_weather(result),))


def closing(
    scenario: Scenario, weather: Weather, years: str = ONE_YEAR, litres: bool = False, table: tuple[Table, ...] = ()
) -> Section:
    """The same for any report; ``years`` is what a year stands for, ``litres`` whether the water was simulated."""
    part = (
        Points((years, *ALWAYS, _panel(scenario), _faults(scenario), _litres(weather) if litres else _hours())),
        Heading("What stays hidden"),
        Words(HIDDEN),
        Heading("Weather"),
        Words(weather.source),
        *words((f"Licence: {weather.licence}", *weather.notes), "small"),
        *table,
    )
    return Section("assumptions", "Assumptions and weather", part)


def cautions(*_: object) -> Section:
    """What a reader must know before touching anything; it holds for every system."""
    return Section("cautions", "Cautions", None, "cautions")


def _panel(scenario: Scenario) -> str:
    """What is taken of label, dirt and snow."""
    care = scenario.care
    dirt = (
        f"new dirt takes {care.soiling_per_month:.1%} of the light a month until the next cleaning"
        if care.soiling_per_month
        else "dirt is a constant share"
    )
    snow = "Snow lies on the panel on the days that the scenario names" if care.snow else "No snow lies on the panel"
    return f"The panel's label is taken as true; mismatch and ageing are constant shares, {dirt}. {snow}."


def _faults(scenario: Scenario) -> str:
    """What may break."""
    named = ", ".join(fault.name for fault in scenario.care.fault)
    if not named:
        return "Nothing breaks: no worn pump, no loose terminal, no clog. Hours are what the energy allows."
    breaks = f"Only what is named breaks, by chance ({named}): no worn pump, no loose terminal"
    return f"{breaks}. Other hours are what the energy allows."


def _hours() -> str:
    return f"The water itself is not simulated: hours are pump hours, not {in_full('l')}."


def _litres(weather: Weather) -> str:
    """What the litres rest on."""
    rain = "Rain and splash are left out" if weather.rain is None else RAIN
    humidity = "not measured but taken from the night's lowest temperature"
    return (
        f"Flows are those of a clean filter and clean pipes, steady within each hour. {rain}; humidity is "
        f"{humidity if weather.dew_point is None else 'that of the weather data'}. The pond is well mixed and has no "
        "ice."
    )


def _weather(result: YearResult) -> Table:
    year = result.measures
    return Table(
        ("Weather of the year", "Value"),
        (
            ("Its hours are dated in", str(result.weather.index[0].year)),
            ("On the level", f"{year.ghi_kwh_m2:,.0f} kWh/m²"),
            ("In the plane of the array, past the shades", f"{year.in_plane_kwh_m2:,.0f} kWh/m²"),
            ("Mean air temperature", str(Quantity(year.temp_mean_c, "c", ".1f"))),
            ("Lowest air temperature", str(Quantity(year.temp_min_c, "c", ".1f"))),
        ),
    )
