"""Sized settings as a commented file of their own, or as a section of a site file."""

from leafwinch.setting_texts import SETTING_MEANINGS
from leafwinch.settings_schema import SCHEMA
from leafwinch_host import version
from leafwinch_sim.site_schema import Site
from leafwinch_sim.sizing.parts import parts_of
from leafwinch_sim.sizing.proposals import Proposal
from leafwinch_sim.sizing.worked import work_out
from leafwinch_wiring.netlist import load_netlist

UNITS = {row[0]: row[1] for row in SCHEMA}


def settings_file(site_name: str, rows: list[Proposal]) -> str:
    """Return the text of a settings file; `run`, `prove`, `healthy` and `board load` read it."""
    return (
        f"# Settings of {site_name}, sized by leafwinch {version()}. Nothing here was measured:\n"
        "# compare with what commissioning shows before you rely on it.\n"
        f'site = "{site_name}"\n\n{settings_table(rows)}'
    )


def settings_section(site: Site) -> str:
    """Return the text of a site file's own section of settings, sized from the rest of the site.

    Raises:
        BadInput: the site's wiring can't be read.
    """
    rows = parts_of(work_out(site, load_netlist(site.wiring))).settings
    return (
        f"\n# Sized by leafwinch {version()} from the rest of this file; 'leafwinch size' says "
        "why,\n"
        f"# and sizes them anew when something above has changed.\n{settings_table(rows)}"
    )


def settings_table(rows: list[Proposal]) -> str:
    """Return the TOML table, each line with meaning and reason."""
    lines = ["[settings]"]
    for row in rows:
        unit = UNITS[row.name]
        lines.append(f"# {SETTING_MEANINGS[row.name]}, {unit}: {row.why}")
        lines.append(f"{row.name} = {row.value}")
    return "\n".join(lines) + "\n"
