"""Pairs through many years, and the timer beside them."""

from __future__ import annotations

from dataclasses import replace
from html import unescape
from pathlib import Path

import numpy as np
import pytest
from made_up_pairs import made_up_pair

from sim import load, pairs
from sim.errors import InputError
from sim.report.pairs import TIMER_FIRST, pairs_report
from sim.studies.chains import run_years, synthetic
from sim.studies.common_years import met_shares
from sim.studies.controls import Control, timer_in_words, with_best_timer
from sim.studies.pair_years import ManyYears, candidates_of, voltages, with_pair
from sim.studies.pairs import PairsResult
from sim.weather.many import years_for

COURTYARD = Path(__file__).parent.parent / "scenarios" / "courtyard.toml"
YEARS = 10


@pytest.fixture(scope="module")
def studied() -> PairsResult:
    """Three disconnect voltages and one reconnect, the best through ten years."""
    return pairs(load(COURTYARD), 0.6, (11.0, 12.2), (13.4, 13.4), YEARS)


def timed(met: float, name: str = "clock + voltage, 08:00 to 16:00") -> Control:
    """A way to control the load that meets a share."""
    return Control(name, 2000.0, met, 2000.0, 0.0, 365, 50.0, 0.3, 20.0)


def test_every_candidate_has_its_poor_years(studied: PairsResult) -> None:
    """P10 is that of the years' own study with this pair, and it is in the JSON."""
    chosen, scenario = studied.recommended, studied.scenario
    years = run_years([with_pair(scenario, chosen)], synthetic(years_for(scenario), YEARS)).figures[0]
    days = np.array([31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31])
    share = met_shares(years, np.asarray(scenario.need.hours_per_day) * days)[0]
    assert chosen.hours_met_share_p10 == pytest.approx(np.quantile(share, 0.1), abs=1e-4)
    assert studied.as_json()["recommended"]["hours_met_share_p10"] == chosen.hours_met_share_p10
    assert studied.present.hours_met_share_p10 is not None


def test_the_recommendation_rests_on_the_poor_years(studied: PairsResult) -> None:
    """Within a point of the best P10 of the candidates; the words say in how many years it is near the best."""
    many = studied.years
    assert many is not None and studied.recommended.hours_met_share_p10 is not None
    assert studied.recommended.hours_met_share_p10 >= many.p10.max() - 0.01
    said = many.in_words(studied.recommended, studied.present)
    assert said in studied.reasons and f"best candidate in {many.good_years(studied.recommended)};" in said
    html = unescape(pairs_report(studied))
    assert "In good years and bad" in html and said in html


def test_a_poor_year_can_change_the_choice() -> None:
    """The first is better in nine years of ten, the second in the poor one: it alone is near the best P10; derived."""
    first, second = made_up_pair(11.0, 13.0), made_up_pair(12.0, 13.0)
    many = ManyYears((first, second), np.array([[0.9] * 8 + [0.3] * 2, [0.8] * 10]))
    assert many.near() == (second,) and many.good_years(first) == 8 and many.good_years(second) == 2


def test_candidates_are_the_best_of_each_disconnect_voltage() -> None:
    """Of five disconnect voltages with two reconnect voltages each: five, and those that are asked for."""
    every = [made_up_pair(off, on) for off in (11.0, 11.2, 11.4, 11.6, 11.8) for on in (12.8, 13.6)]
    also = made_up_pair(12.9, 13.6)
    found = candidates_of(every, 0.5, (also,))
    assert [voltages(pair) for pair in found] == [
        (12.9, 13.6),
        *((off, 12.8) for off in (11.0, 11.2, 11.4, 11.6, 11.8)),
    ]


@pytest.mark.parametrize("years", [-1, 5, 201])
def test_years_that_say_nothing(years: int) -> None:
    """One message that names the option."""
    with pytest.raises(InputError, match="--years"):
        pairs(load(COURTYARD), 0.6, (12.2, 12.2), (13.4, 13.4), years)


def test_the_timer_is_told_where_it_does_more(studied: PairsResult) -> None:
    """A point more than the pair that meets most, in reasons and headline; of several windows the best is shown."""
    assert timer_in_words([timed(0.905)], 0.9) == ""
    said = timer_in_words([timed(0.95)], 0.9)
    assert "from 08:00 to 16:00" in said and "95 %" in said and "90 %" in said
    best = timed(0.95)
    assert with_best_timer([timed(0.5, "voltage only"), timed(0.9), best]) == (timed(0.5, "voltage only"), best)
    assert TIMER_FIRST in pairs_report(replace(studied, timer=said))
    assert TIMER_FIRST not in pairs_report(replace(studied, timer=""))
