"""Body height and mass, asked wherever they can be given."""

from __future__ import annotations

import streamlit as st


def ask_body(stature_m: float | None, mass_kg: float | None) -> tuple[float | None, float | None]:
    """Ask for the height without shoes and the mass, as they are kept; give metres, kilograms."""
    first, second = st.columns(2)
    kept_cm = None if stature_m is None else round(stature_m * 100, 1)
    stature_cm = first.number_input(
        "Body height without shoes, cm", 80.0, 240.0, kept_cm, step=0.5, format="%.1f"
    )
    mass = second.number_input(
        "Body mass, kg", 15.0, 250.0, mass_kg, step=0.5, format="%.1f",
        help="Only the force of a sprint needs it. It may be left out.",
    )  # fmt: skip
    return None if stature_cm is None else stature_cm / 100, mass
