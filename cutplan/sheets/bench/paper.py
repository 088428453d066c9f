"""The papers that the bench prints on."""

from __future__ import annotations

from fractions import Fraction

PAPERS = {"letter": (Fraction(2159, 10), Fraction(2794, 10)), "a4": (Fraction(210), Fraction(297))}  # mm


def page_size(paper: str) -> str:
    """Width and height as a style sheet has them."""
    return " ".join(f"{float(side):g}mm" for side in PAPERS[paper])
