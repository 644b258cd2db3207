"""Which rows of the reference table the tests check, and why the others are not checked (yet)."""

from __future__ import annotations

from collections.abc import Set as AbstractSet

import published

LEAST_USED = 150
WHOLE = {
    "test_sunlight.py",
    "test_devices.py",
    "test_measures.py",
    "test_frost.py",
}  # who has run all of them has run all
NOT_USED = {
    # first and last id of a run: the reason
    ("REF004", "REF007"): "sunrise, sunset, distance and declination; the program asks for the sun at mid-hour only",
    ("REF008", "REF011"): "solar time and hour angle by hand formulas; the program has only the full algorithm",
    ("REF012", "REF015"): "declination by one-line formulas; the program has only the full algorithm",
    ("REF020", "REF020"): "day length by a hand formula; the program has only the full algorithm",
    ("REF023", "REF025"): "spectra and the history of the solar constant; nothing in the program depends on them",
    ("REF026", "REF027"): "air mass alone; it enters the Perez rows that are checked",
    ("REF028", "REF029"): "sunrise with refraction; the program asks for the sun at mid-hour only",
    ("REF053", "REF056"): "daily and monthly decomposition; synthetic hours are split one by one",
    ("REF064", "REF065"): "clear-sky models are not used",
    ("REF077", "REF077"): "isotropic sky; the program offers two anisotropic ones",
    ("REF081", "REF081"): "isotropic sky",
    ("REF097", "REF097"): "isotropic sky",
    ("REF101", "REF101"): "isotropic sky",
    ("REF115", "REF115"): "isotropic sky",
    ("REF119", "REF119"): "isotropic sky",
    ("REF123", "REF124"): "definitions of test conditions",
    ("REF127", "REF130"): "other cell temperature models; the program uses Faiman's",
    ("REF167", "REF167"): "temperature coefficient of power; the program takes those of current and voltage",
    ("REF188", "REF192"): "a parameter set that the table itself says lies below measured cells",
    ("REF193", "REF193"): "a rounded chart that contradicts REF187 at full charge",
    ("REF198", "REF198"): "a range; the catalogue's 15 mV a cell is quoted from it",
    ("REF203", "REF203"): "discharge temperature range; the program does not stop discharge in the cold",
    ("REF214", "REF214"): "specific gravity; the catalogue has freezing points by charge",
    ("REF216", "REF216"): "specific gravity",
    ("REF218", "REF218"): "specific gravity",
    ("REF226", "REF228"): "freezing by specific gravity; the catalogue has it by charge",
    ("REF232", "REF232"): "one maker's shift with temperature; the program's −4 mV a cell lies in REF235",
    ("REF234", "REF234"): "one maker's shift with temperature",
    ("REF238", "REF240"): "capacity by rate of one sheet, 104 to 76 Ah; test_frost holds the last to 10 %",
    ("REF251", "REF251"): "self-discharge over three months grows faster than the constant rate the program has",
    ("REF253", "REF253"): "energy efficiency; a result here, not an input",
    ("REF292", "REF294"): "stranded class 2 conductors; the program has flexible class 5",
    ("REF211", "REF212"): "an ageing formula in throughput and temperature that the program does not use",
    ("REF224", "REF225"): "voltage from specific gravity; the program asks for neither",
    ("REF241", "REF245"): "Peukert's law; the program has the exhaustion resistance instead",
    ("REF360", "REF361"): "Crane's fittings by fT, and sudden expansion; the catalogue has textbook coefficients",
    ("REF362", "REF370"): "inside diameters of trade sizes; a scenario gives the diameter itself",
    ("REF392", "REF392"): "the greatest height of a siphon, ten times that of any pond",
    ("REF397", "REF397"): "another weir formula; the program has Francis's",
    ("REF406", "REF406"): "oxygen that fish need; the program gives what water can hold",
    ("REF408", "REF408"): "koi ponds: a habit of their own",
    ("REF410", "REF410"): "sizing of filters",
    ("REF412", "REF412"): "a choice between the note and the warning that the filter rule has",
    ("REF413", "REF413"): "feeding of fish",
    ("REF423", "REF432"): "yields and reliability of supply: not in the results yet",
}


def not_used() -> dict[str, str]:
    """Every id that is listed as not used, with its reason."""
    ids = sorted(published.rows())
    return {id: reason for (first, last), reason in NOT_USED.items() for id in ids if first <= id <= last}


def complaint(files: AbstractSet[str], asked: AbstractSet[str]) -> str:
    """What is wrong with the rows asked for by tests of these files; nothing unless they are the whole suite.

    At least 150 rows are checked, and every other row is listed with a reason.
    """
    silent = sorted(set(published.rows()) - asked - set(not_used()))
    if not files >= WHOLE or (len(asked) >= LEAST_USED and not silent):
        return ""
    told = f"{len(asked)} rows are checked, of at least {LEAST_USED}; neither checked nor listed: {silent}"
    return f"reference table: {told}"
