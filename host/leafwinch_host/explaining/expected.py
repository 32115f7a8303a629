"""The numbers of an installation that explanations quote, in words."""

from collections.abc import Mapping

from leafwinch.settings_schema import SCHEMA
from leafwinch_sim.site_schema import Site
from leafwinch_wiring.netlist import Netlist

_AMPERES = {
    "rest_a": "rest_ma",
    "run_max_a": "run_max_ma",
    "trip_a": "trip_ma",
    "missing_raise_a": "missing_raise_ma",
    "jam_a": "jam_margin_ma",
    "under_a": "under_margin_ma",
    "thermal_base_a": "thermal_base_ma",
}
_SECONDS = {
    "raise_s": "travel_raise_ms",
    "lower_s": "travel_lower_ms",
    "budget_raise_s": "budget_raise_ms",
    "budget_lower_s": "budget_lower_ms",
    "duty_s": "duty_allow_ms",
}
_AS_THEY_ARE = {
    "trip_ms": "trip_ms",
    "pull_ms": "pull_ms",
    "release_ms": "release_ms",
    "slack_ms": "slack_allow_ms",
    "slack_top_ms": "slack_top_ms",
    "leave_bottom_ms": "leave_bottom_ms",
    "leave_top_ms": "leave_top_ms",
    "thermal_restart": "thermal_restart_pct",
    "cool_s": "thermal_cool_s",
    "duty_pct": "duty_pct",
}


def values_of(
    settings: Mapping[str, int], site: Site | None = None, net: Netlist | None = None
) -> dict[str, str]:
    """Return every number that an explanation may quote.

    Args:
        settings: by name; what is missing has the firmware's default.
        site: for the motor's supply; without it the words say where to read the number.
        net: for the coils and the burden, likewise.
    """
    whole = all_settings(settings)
    values = {key: f"{whole[name] / 1000:g}" for key, name in (_AMPERES | _SECONDS).items()}
    values |= {key: str(whole[name]) for key, name in _AS_THEY_ARE.items()}
    values["supply_low_v"] = f"{whole['supply_low_mv'] / 1000:g}"
    values["motor_v"] = f"{site.supply.voltage:g} V" if site else "the winch's plate"
    values["coil"] = "as on its data sheet"
    values["burden"] = "the burden of the board's data sheet"
    if net is not None:
        coils = [coil.ohm for coil in net.coils if coil.name.startswith("QA")]
        if coils:
            values["coil"] = f"about {min(coils):g} ohm by the netlist, or by its data sheet"
        burdens = [load.ohm for part in net.boards for load in part.loads if load.name == "burden"]
        if burdens:
            values["burden"] = f"about {burdens[0]:g} ohm"
    return values


def all_settings(settings: Mapping[str, int]) -> dict[str, int]:
    """Return all settings by name, those not given at the firmware's default."""
    return {str(name): int(settings.get(name, default)) for name, _, _, _, default in SCHEMA}
