"""What to buy, and how to run it: the cheapest design that keeps what is wanted in most years."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import numpy as np

from sim.studies.common_years import CHAIN, Runs, chain_for, wanted_by_month
from sim.studies.designs import Design
from sim.studies.size_promise import Promise
from sim.studies.size_search import FRESH, Search, searched
from sim.studies.size_shop import Offer, Shop

FRESH_TIMES = 2  # fresh years against those of the search, in which what it finds is checked


def confirmed(search: Search, offer: Offer) -> bool:
    """Whether an offer keeps the promise in the years of the search and as many fresh ones again, taken together."""
    chains = range(FRESH, FRESH + FRESH_TIMES * max(1, search.promise.years // CHAIN))
    trial = search.trial(offer)
    search.runs.go([trial], chains)
    fresh = search.runs.figures(trial, chains)
    both = np.concatenate([search.figures(offer), fresh])
    return search.promise.share(both) >= search.promise.of_years
