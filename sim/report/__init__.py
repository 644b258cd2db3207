"""From a simulated year to a page that people read."""

from __future__ import annotations

from sim.report.render import year_report

__all__ = ["year_report"]
